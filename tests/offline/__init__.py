"""Grading without a network, in real Chromium against a real server."""

import pytest

pytest.register_assert_rewrite("tests.offline.checks")

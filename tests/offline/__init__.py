"""Grading without a network, in real Chromium against a real server."""

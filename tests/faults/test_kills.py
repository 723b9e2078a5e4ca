"""Whoever was told that a record is signed finds it again, whatever died in between."""

from dataclasses import replace
from pathlib import Path

import pytest

from tests.cast import close_school
from tests.faults import keeping
from tests.faults.clients import Browser
from tests.faults.drillschool import DrillSchool
from tests.faults.history import Attempt, Kept, Tally, tally
from tests.faults.kills import Plan, killing
from tests.faults.processes import children, kill, running_group
from tests.postgres import DURABLE, running_cluster

WHOLE = {"state": True, "grades": True, "forecast": True, "audit": True}
YES = Attempt("one", 1.0, 2.0, 303, 7, "abc")
THERE = Kept([7], ["abcdef"], WHOLE)


def test_no_acknowledged_signature_is_lost_when_the_server_is_killed(tmp_path: Path) -> None:
    found = killing(Plan(kills=30), tmp_path)
    assert found.clean, found
    assert found.acknowledged >= 30
    assert found.unknown > 0


def test_no_acknowledged_signature_is_lost_when_postgresql_is_killed(tmp_path: Path) -> None:
    with running_cluster(DURABLE) as cluster, cluster.fresh_database() as url:
        found = killing(Plan(kills=20, seed=2), tmp_path, url, cluster)
    assert found.clean, found
    assert found.acknowledged >= 20
    assert found.unknown > 0


def test_a_server_that_answers_before_it_commits_is_found_out(tmp_path: Path) -> None:
    made = DrillSchool(tmp_path)
    draft = made.drafts("teacher0", 1)[0]
    with running_group(tmp_path, made.school.settings.database, "late") as group:
        browser = Browser(group.address, "teacher0")
        browser.sign_in()
        told = replace(browser.sign(draft), seq=None)
        kill(group.master, *children(group.master))
    with made.school.database.read() as session:
        found = tally([told], keeping.kept(session, [draft.record]))
    close_school(made.school)
    assert told.acknowledged
    assert (found.acknowledged, found.lost) == (1, 1)


def test_the_checker_is_content_with_what_is_whole() -> None:
    found = tally([YES], {"one": THERE})
    assert found == Tally(acknowledged=1)
    assert found.clean


@pytest.mark.parametrize(
    ("kept", "fault"),
    [
        (Kept(), "lost"),
        (Kept([8], ["abcdef"], WHOLE), "lost"),
        (Kept([7], ["fedcba"], WHOLE), "lost"),
        (Kept([7], ["abcdef"], {**WHOLE, "grades": False}), "half"),
        (Kept([7, 9], ["abcdef", "abcdef"], WHOLE), "twice"),
    ],
)
def test_the_checker_sees_what_is_missing(kept: Kept, fault: str) -> None:
    found = tally([YES], {"one": kept})
    assert getattr(found, fault) == 1, found
    assert not found.clean


def test_the_checker_sees_what_was_answered_first_and_stands_second() -> None:
    later = Attempt("two", 3.0, 4.0, 303, 6, "abc")
    held = {"one": THERE, "two": Kept([6], ["abcdef"], WHOLE)}
    assert tally([YES, later], held).disorder == 1
    during = replace(later, sent=1.5)
    assert tally([YES, during], held).disorder == 0


def test_the_checker_counts_what_was_stored_without_an_answer() -> None:
    silent = replace(YES, status=None)
    again = replace(YES, status=409)
    found = tally([silent, again], {"one": THERE})
    assert (found.acknowledged, found.unknown, found.committed) == (0, 1, 1)
    assert found.clean

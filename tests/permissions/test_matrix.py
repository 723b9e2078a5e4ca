"""Every route, method, role, relation and state against the table that was reviewed."""

import pytest
from flask import Flask

from gradebook.records.permissions import Action, Role
from gradebook.views.access import OWN_ACCOUNT, POLICY, PUBLIC
from tests.cast import TestSchool
from tests.permissions.cells import ROLES, cells, pairs
from tests.permissions.doors import Doors, outcome, read_golden
from tests.walks.test_import import rows as table_rows

HOW = (
    "\nIs that meant? Then run `python -m tests.permissions`, read the diff of "
    "tests/permissions/golden.csv line by line, and commit it with the change. A new "
    "<converter> is told in tests/permissions/cells.py, a new form in bodies.py."
)
TAKING_AWAY = {"copies.file", "copies.pdf"}
"""Downloads: sent by POST because they are counted and noted, though they change no record."""
PROVING = {"audit.prove"}
"""Sent by POST because it may be long work, which is written down while it lasts."""
GOLDEN = read_golden()
PARTS = sorted({cell.endpoint.partition(".")[0] for cell in GOLDEN})


@pytest.mark.parametrize("part", PARTS)
def test_every_door_opens_exactly_to_whom_the_table_says(doors: Doors, part: str) -> None:
    wanted = {cell: said for cell, said in GOLDEN.items() if part_of(cell.endpoint) == part}
    found = doors.found({cell.endpoint for cell in wanted})
    differing = [
        f"{' '.join(filter(None, cell))}: the table says {wanted.get(cell, 'nothing')}, "
        f"the door {found.get(cell, 'is gone')}"
        for cell in sorted({*wanted, *found})
        if wanted.get(cell) != found.get(cell)
    ]
    assert not differing, "\n".join(differing) + HOW


def part_of(endpoint: str) -> str:
    """The view module of an endpoint."""
    return endpoint.partition(".")[0]


def test_the_table_asks_every_question_there_is(doors: Doors) -> None:
    asked = {one.cell for one in cells(doors.app)}
    new, stale = asked - GOLDEN.keys(), GOLDEN.keys() - asked
    assert not new, "\n".join(sorted(" ".join(cell) for cell in new)) + HOW
    assert not stale, "\n".join(sorted(" ".join(cell) for cell in stale)) + HOW


def test_no_answer_of_the_table_is_a_fault() -> None:
    assert set(GOLDEN.values()) == {"yes", "sign-in", "403", "404", "409"}


def test_the_table_knows_every_role() -> None:
    assert set(ROLES) == {"nobody", *(role.value for role in Role)}


def test_an_auditor_can_send_nothing_but_what_is_about_the_own_account() -> None:
    open_to_gus = {
        cell.endpoint
        for cell, said in GOLDEN.items()
        if cell.role == "auditor" and cell.method != "GET" and said not in ("403", "404")
    }
    assert open_to_gus - PUBLIC - OWN_ACCOUNT == TAKING_AWAY | PROVING


def test_whoever_is_not_signed_in_passes_public_doors_alone() -> None:
    opened = {
        cell.endpoint
        for cell, said in GOLDEN.items()
        if cell.role == "nobody" and said != "sign-in"
    }
    assert opened == PUBLIC


def test_every_route_has_a_rule_and_every_rule_a_route(doors: Doors) -> None:
    endpoints = {rule.endpoint for rule, _ in pairs(doors.app)}
    assert endpoints == {*POLICY, *PUBLIC}


@pytest.mark.parametrize("name", [who for who in ROLES.values() if who])
def test_a_route_without_a_rule_is_closed_to_everybody(school: TestSchool, name: str) -> None:
    ran: list[str] = []
    forget(school.app, ran)
    client = school.visitor(name).client
    for method in ("GET", "POST", "HEAD", "PUT", "DELETE"):
        assert client.open("/forgotten", method=method).status_code in (400, 403), method
    assert school.visitor().client.get("/forgotten").status_code == 303
    assert ran == []


def forget(app: Flask, ran: list[str]) -> None:
    """A route that somebody added and gave no rule."""

    def view() -> str:
        ran.append("view")
        return "everything about everybody"

    methods = ["GET", "POST", "PUT", "DELETE"]
    app.add_url_rule("/forgotten", "forgotten", view, methods=methods)


def test_a_look_at_the_head_alone_is_let_in_as_a_look_at_all(doors: Doors) -> None:
    for asked in cells(doors.app):
        if asked.cell.method == "GET" and asked.cell.state in ("", "signed"):
            answer = doors.ask(asked, "HEAD")
            assert outcome(answer) == GOLDEN[asked.cell], asked.cell
            assert answer.data == b"", asked.cell


def test_asking_for_the_methods_gives_no_data(doors: Doors) -> None:
    for asked in cells(doors.app):
        if asked.cell.state in ("", "signed"):
            answer = doors.ask(asked, "OPTIONS")
            refused = outcome(answer) in ("sign-in", "403")
            assert refused or answer.data == b"", asked.cell


def test_an_address_that_does_not_exist_passes_the_gate_too(doors: Doors) -> None:
    cookie = {"Cookie": doors.cookies["ana"]}
    assert doors.client.get("/nowhere", headers=cookie).status_code == 404
    assert doors.client.put("/students", headers=cookie).status_code in (400, 405)


def test_the_page_says_in_which_states_an_act_is_possible(school: TestSchool) -> None:
    page = school.visitor("gus").get("/permissions")
    rows = {row[0].split()[-1]: row for row in table_rows(page)}
    assert rows["Act"][-1] == "Possible while the record is"
    assert rows["lesson-record:amend"][-1] == "signed, acknowledged"
    assert rows["lesson-record:sign"][2:5] == ["own record"] * 3
    assert rows["lesson-record:sign"][-1] == "draft"
    assert rows["audit:read"][-1] == ""
    assert rows.keys() - {"Act"} == {action.value for action in Action}

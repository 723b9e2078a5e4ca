"""Whoever can begin long work finds the way back to it at home, whatever else they are."""

from itertools import chain, combinations

from gradebook.records.commands import jobs
from gradebook.records.jobs import ACTION, Kind
from gradebook.records.permissions import Role, may
from gradebook.records.store import people
from gradebook.records.tables.columns import new_id
from gradebook.records.tables.people import RoleGrant
from tests.cast import TestSchool

COMBINATIONS = [
    frozenset(some)
    for some in chain.from_iterable(combinations(Role, n) for n in range(1, len(Role) + 1))
]


def hold(school: TestSchool, name: str, held: frozenset[Role]) -> None:
    """Let somebody hold just these roles, without signing them out."""
    with school.database.write() as session:
        person = people.person(session, school.ids[name])
        for row in person.grants:
            row.revoked_at = row.revoked_at or school.clock.at
        for role in held:
            row = RoleGrant(id=new_id(), role=role.value, granted_at=school.clock.at)
            person.grants.append(row)


def test_home_leads_back_to_work_for_every_combination_of_roles(school: TestSchool) -> None:
    ana, names = school.visitor("ana"), {}
    hold(school, "ana", frozenset(Role))
    for number, kind in enumerate(Kind):
        names[kind] = f"{number}" * 32
        with school.database.write() as session:
            jobs.ask(school.act(session, "ana"), names[kind], kind, {"subject": ""})
    seen = 0
    for held in COMBINATIONS:
        hold(school, "ana", held)
        home = ana.get("/")
        with school.database.read() as session:
            actor = people.actor_of(people.person(session, school.ids["ana"]))
        for kind, name in names.items():
            assert (f'href="/jobs/{name}"' in home) is may(actor, ACTION[kind]), (held, kind)
            seen += may(actor, ACTION[kind])
    assert seen == 32 + 48, "imports of each with the chief, proofs also with the auditor"
    hold(school, "ana", frozenset({Role.STUDENT, Role.AUDITOR}))
    assert f'href="/students/{school.enrolment}"' in ana.get("/")

"""What two people have to have signed before an entry counts as erased, and who may ask."""

from datetime import timedelta

import pytest

from gradebook.ledger.erasures import ASK, CONFIRM, ERASE, WITHDRAW, Erasures, covers
from gradebook.ledger.statements import Entry, Statement
from gradebook.records.commands import carrying, erasing
from gradebook.records.faults import ForbiddenError, InvalidError
from tests.cast import TestSchool
from tests.erasing.gone import BASIS, CANARIES, NAME, agreed, erase, leave_traces, told_of

GONE = [(3, "aa" * 32), (4, "bb" * 32)]
TOLD = {
    "erasure": "e1",
    "asked": 10,
    "confirmed": 11,
    "account": True,
    "early": False,
    "entries": GONE,
    "events": [],
    "rows": {},
}


def entry(seq: int) -> Entry:
    return Entry(seq, "", "2026-05-20T09:00:00Z", "0" * 64, "k", "s")


def statement(kind: str, actor: str, body: dict[str, object]) -> Statement:
    return Statement(
        "s", kind, actor, "secret", "2026-05-20T09:00:00Z", "UTC", "0" * 32, None, body
    )


def wish(kind: str, actor: str, **changes: object) -> Statement:
    return statement(kind, actor, {"erasure": "e1", "covers": covers(GONE), **changes})


def read(*steps: tuple[int, Statement, bool]) -> list[str]:
    """What does not hold once all these were read; the two entries are blank."""
    found = Erasures(blank=dict(GONE))
    words = [
        said
        for seq, one, by_school in steps
        for _, said in found.take(entry(seq), one, by_school=by_school)
    ]
    return words + [said for _, said in found.unexplained()]


ASKED = (10, wish(ASK, "cleo"), False)
CONFIRMED = (11, wish(CONFIRM, "flo"), False)
ERASED = (12, statement(ERASE, "school", TOLD), True)


def test_two_peoples_word_explains_what_is_gone() -> None:
    assert read(ASKED, CONFIRMED, ERASED) == []


@pytest.mark.parametrize(
    "steps",
    [
        (ERASED,),
        (ASKED, ERASED),
        (CONFIRMED, ERASED),
        (ASKED, (11, wish(CONFIRM, "cleo"), False), ERASED),
        (ASKED, (11, wish(ASK, "flo"), False), ERASED),
        (ASKED, (11, wish(CONFIRM, "flo", covers=covers(GONE[:1])), False), ERASED),
        (ASKED, (11, wish(CONFIRM, "flo", erasure="e2"), False), ERASED),
        (ASKED, (11, wish(CONFIRM, "flo"), True), ERASED),
        (ASKED, CONFIRMED, (12, wish(WITHDRAW, "flo"), False), (13, ERASED[1], True)),
        (ASKED, CONFIRMED, (12, ERASED[1], False)),
        (ASKED, CONFIRMED, (12, statement(ERASE, "school", {**TOLD, "entries": None}), True)),
    ],
    ids=[
        "nobody", "one", "only the second", "one twice", "nobody confirms", "less", "another",
        "the school itself", "called off", "not by the school", "names nothing",
    ],
)  # fmt: skip
def test_anything_less_leaves_it_altered(
    steps: tuple[tuple[int, Statement, bool], ...],
) -> None:
    words = read(*steps)
    assert sum("no entry erased it" in one for one in words) == len(GONE)


def test_a_text_that_is_still_here_was_not_erased() -> None:
    found = Erasures(blank=dict(GONE[:1]))
    steps = (ASKED, CONFIRMED, ERASED)
    words = [
        s for seq, one, own in steps for _, s in found.take(entry(seq), one, by_school=own)
    ]
    assert words == ["Entry 4: erased by entry 12, yet its text is here."]


def test_another_text_than_the_one_named_was_not_erased() -> None:
    found = Erasures(blank={3: "aa" * 32, 4: "cc" * 32})
    steps = (ASKED, CONFIRMED, ERASED)
    words = [
        s for seq, one, own in steps for _, s in found.take(entry(seq), one, by_school=own)
    ]
    assert words == ["Entry 4: it is not the one that entry 12 erased."]


def ask(school: TestSchool, *, early: bool) -> str:
    with school.database.write() as session:
        wanted = erasing.Ask(school.ids["ana"], BASIS, early=early)
        return erasing.ask(school.act(session, "cleo"), wanted).id


def test_before_retention_has_run_it_has_to_be_wanted_and_is_shown(
    either_school: TestSchool,
) -> None:
    school = either_school
    leave_traces(school)
    school.clock.at += timedelta(days=400)
    with pytest.raises(InvalidError) as refused:
        ask(school, early=False)
    assert [one.field for one in refused.value.problems] == ["early"]
    request = ask(school, early=True)
    with school.database.write() as session:
        erasing.confirm(school.act(session, "flo"), request, NAME)
    assert erase(school, request).erasure.early
    assert told_of(school, *CANARIES) == []
    assert "Before retention had run:" in school.visitor("cleo").get("/retention")


def test_one_person_is_not_two(school: TestSchool) -> None:
    leave_traces(school)
    request = ask(school, early=True)
    with pytest.raises(ForbiddenError), school.database.write() as session:
        erasing.confirm(school.act(session, "cleo"), request, NAME)


def test_what_was_called_off_is_not_carried_out(school: TestSchool) -> None:
    leave_traces(school)
    request = agreed(school)
    with school.database.write() as session:
        erasing.withdraw(school.act(session, "cleo"), request)
    with pytest.raises(carrying.ErasingError, match="waits to be carried out"):
        erase(school, request)
    assert told_of(school, *CANARIES)

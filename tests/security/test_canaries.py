"""What lets somebody in, driven through every good and bad path: found nowhere afterwards."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.accounts.holding import OWN, Generator, enrolled, link_on, sign_in
from tests.cast import SECRET, TestSchool, Visitor
from tests.walks.test_main_job import FILLED, lesson_form, open_card

WRONG = [f"canary {number:02d} on a wire" for number in range(12)]
READ = ("/audit", "/ledger", "/people", "/students", "/permissions", "/installation")


def cookies_of(who: Visitor) -> list[str]:
    return [cookie.value for cookie in who.client._cookies.values()]


def guess(school: TestSchool) -> Iterator[str]:
    """Secrets typed in vain, and where they do not belong."""
    for number, fields in enumerate(
        (
            {"email": "ben@school.example", "secret": WRONG[0]},
            {"email": f"{WRONG[1]}@school.example", "secret": WRONG[2]},
            {"email": WRONG[3], "secret": ""},
        )
    ):
        who = school.visitor()
        who.get("/sign-in")
        who.send("/sign-in", fields, 422)
        yield from (WRONG[0], WRONG[1] + WRONG[2], WRONG[3])[number : number + 1]
    who.client.get(f"/join/{WRONG[4].replace(' ', '-')}")
    yield WRONG[4].replace(" ", "-")
    who.client.get(f"/students?q={WRONG[5]}")
    yield WRONG[5]


def hold(school: TestSchool) -> tuple[Visitor, Generator, list[str]]:
    """Ben with a code generator, and all that stands for him."""
    ben, generator = enrolled(school, "ben")
    other = sign_in(school, "ben")
    other.post("/sign-in/second", 422, code=WRONG[6])
    other.post("/sign-in/second", code=generator.recovery[0])
    changed = {"secret": WRONG[7], "new_secret": WRONG[8], "again": WRONG[8]}
    other.get("/secret")
    other.send("/secret", changed, 422)
    held = [generator.totp.secret, *generator.recovery, *cookies_of(ben), *cookies_of(other)]
    return ben, generator, [*held, *WRONG[6:9]]


def sign(school: TestSchool, ben: Visitor, generator: Generator) -> list[str]:
    """A card signed after two failures: wrong secret, wrong code."""
    record, page = open_card(ben, school)
    ben.send(f"/lessons/{record}", {**FILLED, **lesson_form(page)})
    version = lesson_form(ben.get(f"/lessons/{record}/review"))
    path = f"/lessons/{record}/sign"
    ben.send(path, {**version, "secret": WRONG[9], "code": generator.code()}, 422)
    ben.send(path, {**version, "secret": SECRET, "code": WRONG[10]}, 422)
    school.clock.pass_minutes(2)
    ben.send(path, {**version, "secret": SECRET, "code": generator.code()})
    return [WRONG[9], WRONG[10], SECRET]


def join(school: TestSchool) -> list[str]:
    """Hal sets a secret by a link; a shorter one was refused before."""
    flo = school.visitor("flo")
    flo.get(f"/people/{school.ids['hal']}")
    link = link_on(flo.post(f"/people/{school.ids['hal']}/link"))
    hal = school.visitor()
    hal.get(link)
    hal.post(link, 422, new_secret=WRONG[11][:9], again=WRONG[11][:9])
    hal.post(link, new_secret=OWN, again=OWN)
    return [link.rpartition("/")[2], OWN, *cookies_of(hal)]


@pytest.mark.parametrize("broken", [False, True])
def test_no_canary_comes_out_anywhere(
    school: TestSchool, capfd: pytest.CaptureFixture[str], *, broken: bool
) -> None:
    hidden = [*guess(school)]
    ben, generator, held = hold(school)
    hidden += [*held, *sign(school, ben, generator), *join(school), ben.token]
    if broken:
        school.app.view_functions["syllabus.index"] = lambda: {}[hidden[0]]
        assert hidden[0] not in ben.get("/syllabus", 500)
    assert len(set(hidden)) >= 30
    cleo = school.visitor("cleo")
    answers = [cleo.client.get(path).text for path in READ]
    captured = capfd.readouterr()
    told = captured.out + captured.err + "".join(answers)
    files = b"".join(path.read_bytes() for path in Path(school.settings.data).rglob("*.db*"))
    assert b"Hover" in files or b"hover" in files  # in clear, so that a hit could be seen
    assert re.search(r'"event": "answered"', told)
    found = [one for one in set(hidden) if one in told or one.encode() in files]
    assert found == []

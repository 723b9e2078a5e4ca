"""What makes a secret acceptable, and what checking one costs."""

from threading import Barrier, Thread

import pytest
from argon2 import extract_parameters
from argon2.low_level import ARGON2_VERSION, Type, core, ffi

from gradebook.app import create_app
from gradebook.records import secrets
from gradebook.records.commands import keyring
from gradebook.records.faults import SlowDownError
from gradebook.records.store import people
from gradebook.settings import FLOOR, HashCost
from tests.cast import TestSchool

ABOUT = ("Ana Ortiz", "ana@kelpmoor.example", "Kelpmoor flying school")
LONG = "ten grey geese over the bay"


def refused(typed: str, *, alone: bool = True) -> str:
    problems = secrets.check_secret(typed, ABOUT, alone=alone)
    return problems[0].words if problems else ""


@pytest.mark.parametrize(
    ("typed", "alone", "words"),
    [
        ("vT7!qz#9mPw2xK", True, "at least 15"),
        ("vT7!qz#9mPw2xKe", True, ""),
        ("vT7!qz#", False, "at least 8"),
        ("vT7!qz#9", False, ""),
        (LONG * 8, True, "at most 200"),
    ],
)
def test_length_depends_on_whether_a_second_factor_stands_beside_it(
    typed: str, alone: bool, words: str
) -> None:
    found = refused(typed, alone=alone)
    assert (words in found) if words else found == ""


@pytest.mark.parametrize(
    "typed",
    [
        "password1234567",
        "aaaaaaaaaaaaaaaaaaaa",
        "Kelpmoor Kelpmoor 1",
        "ana.ortiz.ana.ortiz",
        "helicopter pilot",
        "Flight Instructor 2026",
        "qwertyuiopasdfgh",
    ],
)
def test_what_a_guesser_would_try_first_is_refused(typed: str) -> None:
    assert "Too easy to guess." in refused(typed)


@pytest.mark.parametrize(
    "typed",
    [
        LONG,
        "8301 9912 7745 2206",
        "grün grüner Grüße, drei",
        "vT7!qz#9mPw2xKe",
        "🜁 四 gulls, 3 boats",
    ],
)
def test_no_kind_of_character_is_asked_for_or_refused(typed: str) -> None:
    assert refused(typed) == ""


def test_a_secret_matches_whichever_way_a_keyboard_composes_it() -> None:
    hashed = secrets.hashed("café au lait, deux", FLOOR)
    assert secrets.matches(hashed, "cafe\u0301 au lait, deux", FLOOR)
    assert not secrets.matches(hashed, "cafe au lait, deux", FLOOR)


@pytest.mark.parametrize("known", [secrets.UNSET, "", "not a hash"])
def test_an_account_without_a_secret_matches_nothing(known: str) -> None:
    assert not secrets.matches(known, "", FLOOR)
    assert not secrets.matches(known, known, FLOOR)


def test_a_hash_made_at_a_lower_cost_is_outgrown() -> None:
    made = secrets.hashed(LONG, FLOOR)
    assert extract_parameters(made).type is Type.ID
    assert secrets.outgrown(made, HashCost())
    assert not secrets.outgrown(made, FLOOR)
    assert not secrets.outgrown(secrets.hashed(LONG, HashCost()), FLOOR)


def test_signing_in_renews_a_hash_that_was_too_cheap(either_school: TestSchool) -> None:
    school = either_school
    cheap = hash_of(school, "ana")
    object.__setattr__(school.settings, "hash_cost", HashCost(3, 20000))
    assert "Ana" in school.visitor("ana").get("/")
    assert extract_parameters(hash_of(school, "ana")).memory_cost == 20000
    assert cheap != hash_of(school, "ana")
    assert "Ana" in school.visitor("ana").get("/")


def hash_of(school: TestSchool, name: str) -> str:
    with school.database.read() as session:
        return people.person(session, school.ids[name]).secret_hash


def test_no_more_than_two_secrets_are_hashed_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(secrets, "PATIENCE", 0.01)
    started, done = Barrier(3), Barrier(3)

    def hold() -> None:
        with secrets.turn():
            started.wait()
            done.wait()

    threads = [Thread(target=hold) for _ in range(2)]
    for thread in threads:
        thread.start()
    started.wait()
    with pytest.raises(SlowDownError, match="nothing is lost"), secrets.turn():
        raise AssertionError("a third turn was given")
    done.wait()
    for thread in threads:
        thread.join()
    with secrets.turn():
        pass


@pytest.mark.parametrize("cost", [HashCost(1, 19456), HashCost(2, 12288), HashCost(3, 8192)])
def test_no_school_opens_with_hashes_below_the_floor(
    school: TestSchool, cost: HashCost
) -> None:
    object.__setattr__(school.settings, "hash_cost", cost)
    with pytest.raises(ValueError, match="less than the least"):
        create_app(school.settings)


# RFC 9106, section 5.3: password 32 x 01, salt 16 x 02, secret 8 x 03, data 12 x 04.
TAG = "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659"


def test_argon2id_is_the_one_of_rfc_9106() -> None:
    out = ffi.new("uint8_t[]", 32)
    kept = {
        "pwd": ffi.new("uint8_t[]", b"\x01" * 32),
        "salt": ffi.new("uint8_t[]", b"\x02" * 16),
        "secret": ffi.new("uint8_t[]", b"\x03" * 8),
        "ad": ffi.new("uint8_t[]", b"\x04" * 12),
    }
    context = ffi.new(
        "argon2_context *",
        {
            "version": ARGON2_VERSION, "out": out, "outlen": 32,
            "pwd": kept["pwd"], "pwdlen": 32, "salt": kept["salt"], "saltlen": 16,
            "secret": kept["secret"], "secretlen": 8, "ad": kept["ad"], "adlen": 12,
            "t_cost": 3, "m_cost": 32, "lanes": 4, "threads": 4,
            "allocate_cbk": ffi.NULL, "free_cbk": ffi.NULL, "flags": 0,
        },
    )  # fmt: skip
    assert core(context, Type.ID.value) == 0
    assert bytes(ffi.buffer(out)).hex() == TAG


def test_a_key_opens_however_the_keyboard_writes_the_secret(school: TestSchool) -> None:
    """One letter with its accent, or the letter and the accent after it: Unicode NFKC."""
    composed, apart = "a caf\u00e9 by the old sea wall", "a cafe\u0301 by the old sea wall"
    with school.database.write() as session:
        act = school.act(session, "flo")
        keyring.revoke(act, school.ids["ben"], "for the test")
        made = keyring.make_key(act, school.ids["ben"], composed, FLOOR)
        assert keyring.unlock(session, school.ids["ben"], apart) == made
        assert keyring.unlock(session, school.ids["ben"], composed.upper()) is None

"""A record from one school into another: previewed, trusted or not, and never merged."""

import json
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pytest
from sqlalchemy import func, select

from gradebook.ledger.bundle import fingerprint
from gradebook.ledger.canonical import jcs
from gradebook.records.store import copies
from gradebook.records.tables.ledger import ForeignRecord, LedgerEntry, TrustedKey
from gradebook.records.tables.lessons import LessonRecord
from tests.cast import SECRET, TestSchool, Visitor, close_school, open_school
from tests.copies.paper_trail import certify, fly, whole_course


@pytest.fixture(scope="module")
def elsewhere(tmp_path_factory: pytest.TempPathFactory) -> Iterator[bytes]:
    """Ana's certified record of another school, whose key is another too."""
    other = open_school(tmp_path_factory.mktemp("elsewhere"), seed=bytes(range(1, 33)))
    whole_course(other)
    yield certify(other)
    close_school(other)


def address(school: TestSchool) -> str:
    return f"/students/{school.enrolment}/foreign"


def chosen(cleo: Visitor, school: TestSchool, data: bytes, status: int = 200) -> str:
    """Cleo chooses a file; what she sees."""
    cleo.get(address(school))
    file = (BytesIO(data), "ana.windtee-record")
    return cleo.send(address(school), {"file": file}, status).text


def taken(cleo: Visitor, school: TestSchool, page: str, status: int = 200, **more: str) -> str:
    digest = page.partition('name="digest"')[2].partition('value="')[2].partition('"')[0]
    sent = {"digest": digest, "secret": SECRET, "trust": "unverified", **more}
    return cleo.send(f"{address(school)}/take", sent, status).text


def rows(school: TestSchool, table: type) -> int:
    with school.database.read() as session:
        return session.scalar(select(func.count()).select_from(table)) or 0


def test_a_trusted_record_stands_beside_the_own_one(
    either_school: TestSchool, elsewhere: bytes
) -> None:
    school = either_school
    cleo = school.visitor("cleo")
    page = chosen(cleo, school, elsewhere)
    key = fingerprint(json.loads(elsewhere)["vkey"])
    assert "5 that count, 2 that do not" in page
    assert key[:9] in page
    assert key not in page
    told = {"trust": "trust", "typed": key.upper(), "words": "By phone."}
    shown = taken(cleo, school, page, **told)
    assert "Whole and unaltered, certified by test-school-" in shown
    assert "Preflight inspection" in shown
    assert key in cleo.get("/trusted-keys")
    assert "Whole and unaltered" in school.visitor("ana").get(
        f"/students/{school.enrolment}/records"
    )
    assert (rows(school, ForeignRecord), rows(school, TrustedKey)) == (1, 1)
    assert rows(school, LessonRecord) == 0
    with school.database.read() as session:
        kept = session.scalars(select(ForeignRecord)).one()
        assert copies.unpack(kept.content) == elsewhere
        stated = session.scalars(select(LedgerEntry).filter_by(kind="foreign.take")).one()
        body = json.loads(stated.statement)["body"]
        assert (body["sha256"], body["verdict"]) == (kept.sha256, 0)


def test_a_record_of_an_unknown_school_is_readable_and_unverified(
    school: TestSchool, elsewhere: bytes
) -> None:
    cleo = school.visitor("cleo")
    shown = taken(cleo, school, chosen(cleo, school, elsewhere))
    assert "Unverified: the file agrees with itself" in shown
    assert "S-01 First lesson" in shown
    assert "0 keys" in cleo.get("/trusted-keys")
    again = taken(cleo, school, chosen(cleo, school, elsewhere), 409)
    assert "taken in already" in again
    fly(school, "s-01")
    listed = json.loads(certify(school))["shown"]
    assert [one["verified"] for one in listed["foreign"]] == [False]
    assert len(listed["lessons"]) == 1


def test_a_fingerprint_that_differs_is_not_trusted(
    school: TestSchool, elsewhere: bytes
) -> None:
    cleo = school.visitor("cleo")
    page = chosen(cleo, school, elsewhere)
    wrong = {"trust": "trust", "typed": "0000 1111", "words": "By phone."}
    refused = taken(cleo, school, page, 422, **wrong)
    assert "This is not the fingerprint" in refused
    assert 'value="0000 1111"' in refused
    assert (rows(school, ForeignRecord), rows(school, TrustedKey)) == (0, 0)


def test_what_does_not_hold_is_refused_with_its_verdict(
    school: TestSchool, elsewhere: bytes
) -> None:
    cleo = school.visitor("cleo")
    fields = json.loads(elsewhere)
    fields["shown"]["lessons"][0]["outcome"] = "passed"
    altered = jcs(fields)
    fields = json.loads(elsewhere)
    fields["current"] = fields["current"][:-1]
    outdated = jcs(fields)
    refused = {
        "Choose a file.": b"",
        "Not a record that can be read": b"{}",
        "choose the file that is attached": b"%PDF-1.7",
        "Altered: what the copy shows": altered,
        "Out of date": outdated,
    }
    for words, data in refused.items():
        assert words in chosen(cleo, school, data, 422), words
    fly(school, "s-01")
    assert "of this school" in chosen(school.visitor("cleo"), school, certify(school), 422)
    assert rows(school, ForeignRecord) == 0


def test_only_the_chief_takes_in_and_strangers_read_nothing(
    school: TestSchool, elsewhere: bytes
) -> None:
    cleo = school.visitor("cleo")
    taken(cleo, school, chosen(cleo, school, elsewhere))
    with school.database.read() as session:
        page = f"/foreign/{session.scalars(select(ForeignRecord.id)).one()}"
    found = {
        name: [
            school.visitor(name).client.get(one).status_code for one in (page, address(school))
        ]
        for name in ("ana", "ben", "gus", "dov", "hal")
    }
    assert found == {
        "ana": [200, 403],
        "ben": [200, 403],
        "gus": [200, 403],
        "dov": [404, 403],
        "hal": [404, 403],
    }


def test_anybody_verifies_a_file_without_script(school: TestSchool, elsewhere: bytes) -> None:
    nobody = school.visitor()
    nobody.get("/verify")
    key = fingerprint(json.loads(elsewhere)["vkey"])

    def judged(data: bytes, typed: str, status: int = 200) -> str:
        sent = {"file": (BytesIO(data), "ana.windtee-record"), "key": typed}
        return nobody.send("/verify", sent, status).text

    assert "whole and unaltered" in judged(elsewhere, key)
    assert "not the one you trust" in judged(elsewhere, "0" * 32)
    assert "compare the fingerprint" in judged(elsewhere, "")
    assert "Not a record that can be read" in judged(b"nonsense", key)
    assert "Choose a file." in judged(b"", key, 422)
    assert not list(Path(school.settings.data).glob("imports/*"))

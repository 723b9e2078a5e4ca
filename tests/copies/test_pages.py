"""The pages: who makes, reads and takes away a copy, and what paper and PDF hold."""

import io
import json
import re
from datetime import timedelta
from html import unescape

from pypdf import PdfReader
from werkzeug.test import TestResponse

from gradebook.ledger.bundle import fingerprint, verify_bundle
from tests.cast import SECRET, TestSchool, Visitor
from tests.copies.paper_trail import end, fly, whole_course


def address(school: TestSchool) -> str:
    return f"/students/{school.enrolment}/copies"


def certified(school: TestSchool, purpose: str = "copy") -> str:
    """Cleo certifies Ana's record on the page; the address of the copy."""
    cleo = school.visitor("cleo")
    cleo.get(address(school))
    sent = {"purpose": purpose, "confirmed": "y", "secret": SECRET}
    return cleo.send(address(school), sent).request.path


def taken(visitor: Visitor, copy: str, form: str = "file", **fields: str) -> TestResponse:
    visitor.get(copy)
    return visitor.client.post(f"{copy}/{form}", data={"csrf_token": visitor.token, **fields})


def test_a_copy_is_certified_read_and_taken_away(either_school: TestSchool) -> None:
    school = either_school
    whole_course(school)
    end(school)
    copy = certified(school, "graduation")
    for name in ("ana", "cleo", "gus"):
        page = school.visitor(name).get(copy)
        assert "Certified copy: graduation" in page
        assert "<landings>" not in page
        assert "I counted five &lt;landings&gt;." in page
    ana = school.visitor("ana")
    assert "Graduation" in ana.get(address(school))
    answer = taken(ana, copy)
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "application/json"
    name = f"ana-small-course-{school.clock.at.date()}.windtee-record"
    assert answer.headers["Content-Disposition"] == f'attachment; filename="{name}"'
    key = fingerprint(json.loads(answer.data)["vkey"])
    assert verify_bundle(answer.data, key).code == 0
    notes = list((school.settings.data / "checkpoints").glob("*.note"))
    assert json.loads(answer.data)["checkpoint"] in [one.read_text() for one in notes]


def test_a_pdf_says_what_the_rule_asks_and_carries_its_file(school: TestSchool) -> None:
    whole_course(school)
    end(school)
    copy = certified(school, "graduation")
    answer = taken(school.visitor("ana"), copy, "pdf", paper="letter")
    assert answer.headers["Content-Type"] == "application/pdf"
    paper = PdfReader(io.BytesIO(answer.data))
    words = re.sub(r"\s+", " ", " ".join(page.extract_text() for page in paper.pages))
    for asked in WANTED:
        assert asked in words, (asked, words[:2000])
    assert f"Page 1 of {len(paper.pages)}" in words
    assert paper.pages[0].mediabox[2:] == [612, 792]
    ((name, (data,)),) = paper.attachments.items()
    assert name.endswith(".windtee-record")
    told = verify_bundle(data, fingerprint(json.loads(data)["vkey"]))
    assert told.code == 0
    assert "pdfuaid:part" in paper.root_object["/Metadata"].get_data().decode()


# 14 CFR 141.101(a) to (c), in what this story holds: enrolment, log with subjects and times by
# kind, tests with grades, the end and its date, and the chief instructor's certification.
WANTED = (
    "Training record of Ana",
    "Small course",
    "Enrolled 31 Mar 2026",
    "graduated",
    "Log of attendance, subjects and flight operations",
    "S-01 First lesson",
    "Preflight inspection, Run-up, Hover",
    "Dual received 1.2 h",
    "Solo 0.9 h",
    "Day landings 4",
    "Tests taken, with their grades",
    "First stage check Passed Eve",
    "Flight time 5.7 h",
    "Medical certificate seen",
    "Superseded by entry",
    "Void since",
    "Entered for another student.",
    "I counted five <landings>.",
    "Recommended by Ben",
    "conducted by Eve (C-eve)",
    "Reviewed with the instructor.",
    "Chief instructor Cleo",
    "Certificate number C-cleo",
    "UTC",
    "Europe/Lisbon",
    "Signature in ink, Cleo",
    "This is no pilot licence",
)


def test_a_student_makes_an_own_copy(school: TestSchool) -> None:
    fly(school, "s-01")
    ana = school.visitor("ana")
    assert "Certify this record" not in ana.get(address(school))
    page = ana.post(f"{address(school)}/own")
    assert "Copy not certified by any person" in page
    assert "Signature in ink" not in page
    assert "Own copy, not certified" in ana.get(address(school))


def test_a_student_takes_ten_copies_an_hour(school: TestSchool) -> None:
    fly(school, "s-01")
    ana = school.visitor("ana")
    ana.get(address(school))
    copy = ana.send(f"{address(school)}/own", {}).request.path
    for _ in range(9):
        assert taken(ana, copy).status_code == 200
    refused = taken(ana, copy)
    assert refused.status_code == 429
    assert "10 copies in an hour" in refused.text
    school.clock.at += timedelta(hours=1, seconds=1)
    assert taken(school.visitor("ana"), copy).status_code == 200


def test_a_stranger_finds_no_copy(school: TestSchool) -> None:
    fly(school, "s-01")
    copy = certified(school)
    found = {}
    for name in ("hal", "dov", "ben", "flo"):
        visitor = school.visitor(name)
        pages = [visitor.client.get(one).status_code for one in (copy, address(school))]
        visitor.get("/account" if name == "flo" else "/")
        data = {"csrf_token": visitor.token}
        pages += [
            visitor.client.post(f"{copy}/{form}", data=data).status_code
            for form in ("file", "pdf")
        ]
        found[name] = pages
    assert found == {"hal": [404] * 4, "dov": [403] * 4, "ben": [403] * 4, "flo": [403] * 4}


def test_a_graduation_with_gaps_is_refused_above_the_one_list_of_them(
    school: TestSchool,
) -> None:
    fly(school, "s-01")
    cleo = school.visitor("cleo")
    assert "2 lessons not complete: S-02 Second lesson" in unescape(cleo.get(address(school)))
    sent = {"purpose": "graduation", "confirmed": "y", "secret": SECRET}
    page = unescape(cleo.send(address(school), sent, 422).text)
    refusal = page.index("A graduation cannot be certified while")
    assert refusal < page.index("No copy made yet.")
    assert refusal < page.index("Medical certificate seen: Not on file")
    assert page.count("2 lessons not complete: S-02 Second lesson") == 1
    assert "<details open>" in page
    assert "graduation" in re.findall(r'value="([a-z]+)"\s+checked', page)


def test_who_certifies_an_enrolment_that_has_not_ended_is_led_to_its_end(
    school: TestSchool,
) -> None:
    fly(school, "s-01")
    way = f'href="{address(school).removesuffix("/copies")}/end"'
    assert way in school.visitor("cleo").get(address(school))
    ana = school.visitor("ana")
    assert way not in ana.get(address(school))


def test_certifying_needs_the_secret_and_a_tick(school: TestSchool) -> None:
    fly(school, "s-01")
    cleo = school.visitor("cleo")
    cleo.get(address(school))
    page = cleo.send(address(school), {"purpose": "copy", "secret": SECRET}, 422).text
    assert "then tick this" in page
    sent = {"purpose": "copy", "confirmed": "y", "secret": "a wrong sentence"}
    assert "not the secret" in cleo.send(address(school), sent, 422).text
    assert "No copy made yet." in cleo.get(address(school))

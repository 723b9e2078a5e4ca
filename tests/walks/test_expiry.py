"""What is about to expire stands on the instructor's day."""

from tests.cast import SECRET, TestSchool

FILED = {
    "what": "medical",
    "happened_on": "2026-05-01",
    "passed": "y",
    "secret": SECRET,
}


def test_a_medical_that_ends_within_a_month_is_told_to_who_teaches(school: TestSchool) -> None:
    ben = school.visitor("ben")
    assert "About to expire" not in ben.get("/")
    ben.get(f"/students/{school.enrolment}/file")
    ben.post(f"/students/{school.enrolment}/file", expires_on="2026-06-10", **FILED)
    assert "Medical certificate seen" in ben.get("/").partition("About to expire")[2]
    assert "About to expire" not in school.visitor("dov").get("/")


def test_a_newer_medical_silences_it(school: TestSchool) -> None:
    ben = school.visitor("ben")
    ben.get(f"/students/{school.enrolment}/file")
    ben.post(f"/students/{school.enrolment}/file", expires_on="2026-06-10", **FILED)
    ben.post(f"/students/{school.enrolment}/file", expires_on="2027-06-10", **FILED)
    assert "About to expire" not in ben.get("/")


def test_the_day_and_the_readiness_name_the_same_end(school: TestSchool) -> None:
    ben = school.visitor("ben")
    ben.get(f"/students/{school.enrolment}/file")
    for given, until in (("2026-05-01", "2026-06-10"), ("2026-05-10", "2026-05-30")):
        filed = {**FILED, "happened_on": given, "expires_on": until}
        ben.post(f"/students/{school.enrolment}/file", **filed)
    assert "through 10 Jun 2026" in ben.get("/").partition("About to expire")[2]
    assert "through 10 Jun 2026" in ben.get(f"/students/{school.enrolment}/readiness/stage-1")

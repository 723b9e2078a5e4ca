"""Where a form comes from: the browser says so, and nothing else is taken."""

import pytest

from gradebook.security.origin import FOREIGN, is_ours
from tests.cast import SECRET, TestSchool
from tests.walks.test_main_job import FILLED, open_card

HERE = "https://school.example"


@pytest.mark.parametrize(
    ("relation", "origin", "taken"),
    [
        ("same-origin", HERE, True),
        ("same-origin", None, True),
        (None, HERE, True),
        ("none", HERE, False),
        ("same-site", HERE, False),
        ("cross-site", HERE, False),
        ("", HERE, False),
        (None, "http://school.example", False),
        (None, "https://school.example:8443", False),
        (None, "https://elsewhere.example", False),
        (None, "https://school.example.elsewhere.example", False),
        (None, "null", False),
        (None, None, False),
    ],
)
def test_only_a_page_of_ours_may_send(
    relation: str | None, origin: str | None, taken: bool
) -> None:
    assert is_ours(relation, origin, HERE) is taken


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Origin": "null"},
        {"Origin": "http://elsewhere.example"},
        {"Origin": "http://localhost:8080"},
        {"Origin": "http://localhost", "Sec-Fetch-Site": "cross-site"},
        {"Origin": "http://localhost", "Sec-Fetch-Site": "none"},
    ],
)
def test_a_form_from_elsewhere_writes_nothing_though_its_token_is_right(
    school: TestSchool, headers: dict[str, str]
) -> None:
    ben = school.visitor("ben")
    record, _ = open_card(ben, school)
    del ben.client.environ_base["HTTP_ORIGIN"]
    fields = {**FILLED, "csrf_token": ben.token, "version": "1", "remarks": "planted"}
    answer = ben.client.post(f"/lessons/{record}", data=fields, headers=headers)
    assert answer.status_code == 403
    assert FOREIGN in answer.text
    assert "planted" not in ben.get(f"/lessons/{record}")


def test_a_browser_that_names_the_relation_alone_can_sign_in(school: TestSchool) -> None:
    who = school.visitor()
    who.get("/sign-in")
    del who.client.environ_base["HTTP_ORIGIN"]
    fields = {"email": "ben@school.example", "secret": SECRET}
    who.send("/sign-in", fields, headers={"Sec-Fetch-Site": "same-origin"})
    assert "Sign out" in who.get("/")


def test_the_origin_does_not_stand_in_for_the_token(school: TestSchool) -> None:
    ben = school.visitor("ben")
    record, _ = open_card(ben, school)
    answer = ben.client.post(f"/lessons/{record}", data={**FILLED, "version": "1"})
    assert answer.status_code == 400


@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE"])
def test_no_address_takes_an_unsafe_request_from_elsewhere(
    school: TestSchool, method: str
) -> None:
    client = school.app.test_client()
    for rule in school.app.url_map.iter_rules():
        address = rule.rule.replace("<", "0").replace(">", "0")
        assert client.open(address, method=method).status_code == 403, rule


def test_a_link_from_elsewhere_opens_a_page(school: TestSchool) -> None:
    headers = {"Sec-Fetch-Site": "cross-site", "Origin": "https://elsewhere.example"}
    answer = school.visitor("ben").client.get("/students", headers=headers)
    assert answer.status_code == 200

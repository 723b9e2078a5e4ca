"""Keys that only a phone holds: how one is set up, what it cannot do, and how it ends."""

import dataclasses

import pytest
from sqlalchemy import select, text
from sqlalchemy.exc import DBAPIError

from gradebook.app import create_app
from gradebook.ledger import keys
from gradebook.ledger.statements import read_statement
from gradebook.records.commands import inviting, keyring, phones, roles
from gradebook.records.permissions import Role
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.deliveries import Delivery
from gradebook.records.tables.ledger import LedgerEntry, SigningKey
from tests.accounts.holding import enrolled
from tests.cast import SECRET, TestSchool
from tests.phone_desk import Phone


def key(school: TestSchool, kid: str) -> SigningKey:
    with school.database.read() as session:
        row = session.get(SigningKey, kid)
        assert row is not None
        return row


def stated(school: TestSchool, kind: str) -> list[dict[str, object]]:
    """The bodies of every statement of a kind, oldest first."""
    with school.database.read() as session:
        query = select(LedgerEntry.statement).where(LedgerEntry.kind == kind)
        texts = session.scalars(query.order_by(LedgerEntry.seq))
        return [read_statement(one).body for one in texts]


def test_a_phone_is_introduced_by_the_school_with_its_name(either_school: TestSchool) -> None:
    phone = Phone(either_school)
    assert phone.enrol(name="  Red phone ").json == {"kid": phone.kid}
    assert stated(either_school, "key.enrol")[-1] == {
        "kid": phone.kid,
        "public": keys.public_of(phone.seed).hex(),
        "holder": phone.person,
        "name": "Ben",
        "certificate": "C-ben",
        "device": "Red phone",
    }
    assert "Red phone" in phone.visitor.get("/account/phones")
    assert phone.pocket()["phones"] == [phone.kid]


def test_the_own_key_stays_the_own_key_beside_a_phone(either_school: TestSchool) -> None:
    Phone(either_school).enrol()
    with either_school.database.read() as session:
        own = keyring.key_of(session, either_school.ids["ben"])
        assert own is not None
        assert own.id == either_school.keys["ben"].kid
        assert keyring.unlock(session, either_school.ids["ben"], SECRET) is not None


def test_the_database_holds_nothing_a_phone_could_be_signed_for_with(
    either_school: TestSchool,
) -> None:
    phone = Phone(either_school)
    phone.enrol()
    row = key(either_school, phone.kid)
    assert (row.salt, row.cost, row.wrapped) == (b"", "", b"")


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"name": "  "}, "name"),
        ({"name": "x" * 61}, "name"),
        ({"public": "no hex"}, "public"),
        ({"public": "ab" * 31}, "proof"),
        ({"proof": "00" * 64}, "proof"),
        ({"secret": "somebody else's"}, "secret"),
    ],
)
def test_a_phone_that_cannot_be_set_up_is_told_why(
    school: TestSchool, changes: dict[str, str], field: str
) -> None:
    phone = Phone(school)
    told = phone.enrol(422, **changes).json
    assert told is not None
    assert (told["reason"], [one["field"] for one in told["problems"]]) == ("invalid", [field])
    assert phone.pocket()["phones"] == []


def test_a_proof_made_in_one_session_is_worth_nothing_in_another(school: TestSchool) -> None:
    first, second = Phone(school), Phone(school)
    nonce = first.token()["nonce"]
    assert nonce != second.token()["nonce"]
    stolen = keys.sign(first.seed, phones.proof_text(first.person, nonce)).hex()
    second.enrol(422, proof=stolen)
    first.enrol(proof=stolen)


def test_a_key_known_already_is_not_taken_again(school: TestSchool) -> None:
    Phone(school).enrol()
    assert Phone(school).enrol(409).json["reason"] == "changed"
    assert Phone(school, "dov").enrol(409).json["reason"] == "changed"


def test_whoever_has_a_second_factor_shows_it_for_a_phone(school: TestSchool) -> None:
    who, generator = enrolled(school, "ben")
    phone = Phone(school)
    phone.visitor, phone.client = who, who.client
    school.clock.pass_minutes(11)
    who.get("/account")
    assert phone.enrol(422).json["problems"][0]["field"] == "code"
    assert phone.enrol(code=generator.code()).json == {"kid": phone.kid}


def test_only_who_grades_sets_a_phone_up(school: TestSchool) -> None:
    student = Phone(school, "ana")
    assert student.enrol(403).json["error"] == "Your role does not allow this."
    assert "Only who grades lessons" in student.visitor.get("/account/phones")


def test_a_page_without_phones_says_how_one_is_set_up(school: TestSchool) -> None:
    page = school.visitor("ben").get("/account/phones")
    assert "No phone signs for you." in page
    assert "How a phone is set up" in page
    assert 'href="/account/phones"' in school.visitor("ben").get("/account")


def test_its_owner_ends_a_phone_once(either_school: TestSchool) -> None:
    phone = Phone(either_school)
    phone.enrol()
    phone.visitor.get("/account/phones")
    page = phone.visitor.post(f"/account/phones/{phone.kid}/revoke")
    assert "can sign no more" in page
    assert phone.pocket()["phones"] == []
    assert stated(either_school, "key.revoke")[-1]["kid"] == phone.kid
    phone.visitor.post(f"/account/phones/{phone.kid}/revoke", 409)
    assert len(stated(either_school, "key.revoke")) == 1


def test_nobody_ends_the_phone_of_another_nor_an_own_key_this_way(school: TestSchool) -> None:
    phone, cleo = Phone(school), school.visitor("cleo")
    phone.enrol()
    cleo.get("/account/phones")
    cleo.post(f"/account/phones/{phone.kid}/revoke", 404)
    phone.visitor.get("/account/phones")
    phone.visitor.post(f"/account/phones/{school.keys['ben'].kid}/revoke", 404)
    assert key(school, phone.kid).revoked_at is None


def test_a_closed_account_ends_its_phones_in_the_same_transaction(
    either_school: TestSchool,
) -> None:
    phone = Phone(either_school)
    phone.enrol()
    with either_school.database.write() as session:
        closed = roles.SetRoles(phone.person, [Role.INSTRUCTOR], active=False, certificate="C")
        roles.set_roles(either_school.act(session, "flo"), closed)
    ended = {one["kid"]: one["why"] for one in stated(either_school, "key.revoke")}
    assert ended == dict.fromkeys(
        [phone.kid, either_school.keys["ben"].kid], "the account was closed"
    )
    assert phone.client.get("/api/token").status_code == 401


def test_a_secret_set_through_a_link_ends_the_phones_too(school: TestSchool) -> None:
    phone = Phone(school)
    phone.enrol()
    with school.database.write() as session:
        token = inviting.invite(school.act(session, "flo"), phone.person)
    who = school.visitor()
    who.get(f"/join/{token}")
    who.post(f"/join/{token}", new_secret="nine kites on a hill", again="nine kites on a hill")
    assert key(school, phone.kid).revoked_at == school.clock.at


def test_the_trail_tells_of_a_phone_set_up_and_ended(school: TestSchool) -> None:
    phone = Phone(school)
    phone.enrol()
    phone.visitor.get("/account/phones")
    phone.visitor.post(f"/account/phones/{phone.kid}/revoke")
    with school.database.read() as session:
        found = [(row.action, dict(row.facts)) for row in session.scalars(select(AuditEvent))]
    assert ("phone:add", {"phone": "Ben's phone"}) in found
    assert ("account:keep", {"ended_phone": "Ben's phone", "kid": phone.kid}) in found


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE signing_key SET device = 'another' WHERE device IS NOT NULL",
        "UPDATE signing_key SET device = NULL WHERE device IS NOT NULL",
        "DELETE FROM signing_key WHERE device IS NOT NULL",
        "UPDATE delivery SET answer = '{}'",
        "UPDATE delivery SET sha256 = 'ab'",
    ],
)
def test_the_database_itself_keeps_phones_and_answers_as_they_are(
    either_school: TestSchool, statement: str
) -> None:
    phone = Phone(either_school)
    phone.enrol()
    phone.send(phone.letter(), 201)
    with pytest.raises(DBAPIError), either_school.database.write() as session:
        session.execute(text(statement))
    with either_school.database.read() as session:
        assert session.scalars(select(Delivery)).one().status == 201


@pytest.mark.parametrize("path", ["/api/token", "/api/pocket", "/api/nowhere"])
def test_a_session_that_is_over_is_told_in_json_and_led_nowhere(
    school: TestSchool, path: str
) -> None:
    answer = school.visitor().client.get(path)
    assert answer.status_code == (404 if path.endswith("nowhere") else 401)
    assert answer.is_json
    assert answer.json is not None
    assert set(answer.json) == {"error"}


def test_whoever_has_to_do_something_first_is_told_so_in_json(school: TestSchool) -> None:
    app = create_app(dataclasses.replace(school.settings, second_factor=True))
    client = app.test_client()
    client.environ_base["HTTP_ORIGIN"] = "http://localhost"
    page = client.get("/sign-in").text
    token = page.split('name="csrf_token"', 1)[1].split('value="', 1)[1].split('"', 1)[0]
    sent = {"csrf_token": token, "email": "ben@school.example", "secret": SECRET}
    client.post("/sign-in", data=sent)
    answer = client.get("/api/pocket")
    assert (answer.status_code, answer.is_json) == (401, True)
    app.extensions["windtee"].database.engine.dispose()

"""A school with papers of every kind: records of each author in each state, links, requests."""

from dataclasses import dataclass, field

from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook.ledger import keys
from gradebook.records.act import Act
from gradebook.records.card import Card, Entry
from gradebook.records.commands import (
    answering,
    certifying,
    checks,
    erasing,
    inviting,
    opening,
    phones,
    roles,
    signing,
)
from gradebook.records.commands import people as accounts
from gradebook.records.commands.throttling import digest
from gradebook.records.permissions import Role
from gradebook.records.store import people
from gradebook.records.tables.ledger import ForeignRecord
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.people import LoginSession, RoleRequest, SecondFactor
from tests.cast import TestSchool

STATES = ("draft", "signed", "acknowledged", "superseded", "void")
TASKS = {"s-01": ("preflight", "run-up", "hover"), "s-check": ("preflight", "run-up")}
WHY = "For the tests."


@dataclass
class Papers:
    """The ids of what lies in the school."""

    records: dict[tuple[str, str], str] = field(default_factory=dict)
    other: dict[str, str] = field(default_factory=dict)

    def fill(self, school: TestSchool) -> None:
        """Write every paper, through the real commands."""
        for author in ("ben", "eve", "cleo", "dov"):
            self._records(school, author)
        for student in ("ana", "hal"):
            self._copies(school, student)
        with school.database.write() as session:
            flo = school.act(session, "flo")
            token = inviting.invite(flo, school.ids["hal"], clears_factors=True)
            self.other["link"] = digest(token)
            wanted = accounts.AddPerson("Ida", "ida@school.example", "", (Role.STUDENT,))
            self.other["token"] = accounts.add_person(flo, wanted).token
            dov = people.person(session, school.ids["dov"])
            roles.add_roles(flo, dov, frozenset({Role.CHECK_INSTRUCTOR}))
            session.flush()
            self.other["request"] = session.scalars(select(RoleRequest)).one().id
            self.other["erasure"] = self._erasure(school, session)

    def _erasure(self, school: TestSchool, session: Session) -> str:
        """Cleo asks for the account of somebody who never began to be erased."""
        wanted = accounts.AddPerson("Ivo", "ivo@school.example", "", (Role.STUDENT,))
        person = accounts.add_person(school.act(session, "flo"), wanted).person
        session.flush()
        command = erasing.Ask(person.id, "A rule that asks for it.", early=True)
        return erasing.ask(school.act(session, "cleo"), command).id

    def _copies(self, school: TestSchool, student: str) -> None:
        """A copy of a student's record, and the same file as if another school had sent it."""
        enrolment = _enrolment(school, student)
        with school.database.write() as session:
            issued = certifying.request_own(school.act(session, student), enrolment, None)
            foreign = ForeignRecord(
                enrolment_id=enrolment,
                origin="another school",
                fingerprint="0" * 32,
                sha256=issued.copy.sha256,
                content=issued.copy.content,
                verdict=0,
                words="good",
                taken_by=school.ids["cleo"],
                taken_at=school.clock.at,
            )
            session.add(foreign)
            session.flush()
            self.other[f"copy of {student}"] = issued.copy.id
            self.other[f"foreign of {student}"] = foreign.id

    def add_factor(self, school: TestSchool) -> None:
        """Give Gus a second factor; whoever signs in afterwards would be asked for it."""
        with school.database.write() as session:
            row = SecondFactor(
                person_id=school.ids["gus"],
                kind="code",
                label="phone",
                sealed=b"sealed",
                created_at=school.clock.at,
            )
            session.add(row)
            session.flush()
            self.other["factor"] = row.id
            self.other["phone"] = self._phone(school.act(session, "ben"))
            mine = select(LoginSession).filter_by(person_id=row.person_id)
            for login in session.scalars(mine):
                login.second_at = school.clock.at  # shown just now

    def _phone(self, act: Act) -> str:
        """A phone that signs for somebody."""
        seed, nonce = bytes(32), "nonce"
        proof = keys.sign(seed, phones.proof_text(act.actor.person_id, nonce)).hex()
        public = keys.public_of(seed).hex()
        return phones.enrol(act, phones.EnrolPhone("Phone", public, proof, nonce)).id

    def _records(self, school: TestSchool, author: str) -> None:
        """One record in each state; the draft last, since opening again would find it."""
        for state in ("superseded", "void", "acknowledged", "signed", "draft"):
            with school.database.write() as session:
                self.records[author, state] = self._record(school, session, author, state)

    def _record(self, school: TestSchool, session: Session, author: str, state: str) -> str:
        act = school.act(session, author)
        student = "hal" if author == "dov" else "ana"
        if author == "eve":
            self._approve(school, session)
        lesson = "s-check" if author == "eve" else "s-01"
        record = _open(act, _enrolment(school, student), lesson)
        if state == "draft":
            return record.id
        _sign(act, record)
        if state == "acknowledged":
            own = school.act(session, student)
            answering.acknowledge(own, answering.Acknowledge(record.id, True, ""))
        if state == "void":
            answering.void_record(act, answering.Void(record.id, WHY))
        if state == "superseded":
            _sign(act, answering.amend_record(act, answering.Amend(record.id, WHY)))
        return record.id

    def _approve(self, school: TestSchool, session: Session) -> None:
        asked = checks.recommend(
            school.act(session, "ben"), checks.Recommend(school.enrolment, "stage-1", WHY)
        )
        wanted = checks.Approve(school.enrolment, asked.id, school.ids["eve"], WHY)
        checks.approve(school.act(session, "cleo"), wanted)
        self.other["approval"] = asked.id


def _enrolment(school: TestSchool, student: str) -> str:
    return school.enrolment if student == "ana" else school.stranger_enrolment


def _open(act: Act, enrolment: str, lesson: str) -> LessonRecord:
    """A draft with everything on it."""
    record = opening.open_record(act, opening.OpenRecord(enrolment, lesson))
    marks = {"run-up": ("RU-04",)} if lesson == "s-01" else {}
    card = Card(
        flown_on=act.today.isoformat(),
        aircraft="invented",
        ident="KM-H1",
        entries=tuple(
            Entry(task, "perform", "", marks.get(task, ())) for task in TASKS[lesson]
        ),
        readings={"left-drop": "140", "right-drop": "165"},
        times={"dual": "1.2", "ground": "0:30", "day_landings": "3"},
        outcome="failed" if lesson == "s-check" else "complete",
    )
    return opening.save_card(act, opening.SaveCard(record.id, record.version, card))


def _sign(act: Act, record: LessonRecord) -> None:
    signing.sign_record(act, signing.SignRecord(record.id, record.version))

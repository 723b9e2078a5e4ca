"""Certified copies: the chief certifies a record, or the student asks for their own."""

from dataclasses import dataclass
from datetime import timedelta

from gradebook.ledger.bundle import certificate
from gradebook.ledger.canonical import sha256_hex
from gradebook.ledger.notes import Checkpoint
from gradebook.records.act import Act
from gradebook.records.commands import bundling, checkpointing
from gradebook.records.commands.checkpointing import LedgerCheckpoint
from gradebook.records.copying import document
from gradebook.records.copying.papers import ENDED, MEANING, Certification, Papers, Purpose
from gradebook.records.faults import InvalidError, Problem, SlowDownError, TornError
from gradebook.records.pen import Pen
from gradebook.records.permissions import Action
from gradebook.records.store import copies, enrolments, people, signatures
from gradebook.records.tables.columns import new_id
from gradebook.records.tables.ledger import CertifiedCopy
from syllabus.saying import say, say_n

MOST_EXPORTS, HOUR = 10, timedelta(hours=1)
NOT_ENDED = {
    Purpose.TERMINATION: say(
        "This enrolment has not ended by termination: record its end first."
    ),
    Purpose.TRANSFER: say("This enrolment has not ended by transfer: record its end first."),
}


@dataclass(frozen=True, slots=True)
class Certify:
    """Certify an enrolment's record for a purpose; `confirmed`: the list of gaps was read."""

    enrolment_id: str
    purpose: str
    confirmed: bool


@dataclass(frozen=True, slots=True)
class Issued:
    """A copy, and the checkpoint that has to leave the building with it."""

    copy: CertifiedCopy
    checkpoint: LedgerCheckpoint


def certify(act: Act, command: Certify, known: Checkpoint | None) -> Issued:
    """Sign the certificate with the chief's own pen and build the portable file.

    `known` is the last checkpoint that left the building. InvalidError tells how much is
    missing from a record to be certified as graduated; a copy to date is always possible.
    """
    row = enrolments.enrolment(act.session, act.actor, Action.CERTIFY, command.enrolment_id)
    purposes = {one.value: one for one in Purpose if one is not Purpose.OWN}
    purpose = purposes.get(command.purpose)
    if purpose is None:
        raise InvalidError(Problem("purpose", say("Choose what the copy is for.")))
    if not command.confirmed:
        raise InvalidError(Problem("confirmed", say("Read what is missing, then tick this.")))
    by = people.person(act.session, act.actor.person_id)
    made = Certification(purpose, by, act.at, act.zone)
    papers = copies.papers(act.session, row)
    _check_complete(papers, made)
    return _issue(act, papers, made, known, Action.CERTIFY)


def request_own(act: Act, enrolment_id: str, known: Checkpoint | None) -> Issued:
    """A copy at the student's own request, signed by the school's key alone."""
    row = enrolments.enrolment(act.session, act.actor, Action.COPY_REQUEST, enrolment_id)
    check_rate(act)
    made = Certification(Purpose.OWN, None, act.at, act.zone)
    papers = copies.papers(act.session, row)
    return _issue(act.as_school(), papers, made, known, Action.COPY_REQUEST)


def check_rate(act: Act) -> None:
    """Return while this person may take one more copy away; SlowDownError after 10 an hour."""
    taken = copies.taken_since(act.session, act.actor.person_id, act.at, HOUR)
    if taken >= MOST_EXPORTS:
        raise SlowDownError(
            say(
                "{most_exports} copies in an hour are enough. Try again in a while; "
                "reading one on its page is not counted.",
                most_exports=MOST_EXPORTS,
            )
        )


def _check_complete(papers: Papers, made: Certification) -> None:
    """Refuse to certify an end that has not come, or a graduation with gaps."""
    if made.purpose is Purpose.GRADUATION:
        blocking = sum(gap.blocks for gap in document.missing(papers, made))
        if blocking:
            raise InvalidError(Problem("purpose", _lacking(blocking)))
    elif made.purpose in NOT_ENDED and papers.enrolment.ended_how != ENDED[made.purpose]:
        raise InvalidError(Problem("purpose", NOT_ENDED[made.purpose]))


def _lacking(n: int) -> str:
    return say_n(
        "A graduation cannot be certified while {n} thing that it needs is missing; "
        "the list names it. A copy to date can.",
        "A graduation cannot be certified while {n} things that it needs are missing; "
        "the list names them. A copy to date can.",
        n,
    )


def _issue(
    act: Act, papers: Papers, made: Certification, known: Checkpoint | None, action: Action
) -> Issued:
    _check_unaltered(act, papers)
    pen = _pen(act)
    shown = document.shown(papers, made)
    enrolment_id = papers.enrolment.id
    fields = bundling.begin(act.session, papers, shown["certificate"]["at"], shown)
    lists = bundling.listed(act.session, enrolment_id, pen.hand.kid)
    said = {
        **certificate(fields, lists["entries"], lists["keys"]),
        "purpose": made.purpose.value,
        "meaning": MEANING[made.purpose],
        "number": made.by.certificate if made.by else "",
        "missing": [gap["words"] for gap in shown["missing"]],
    }
    placed = act.state("record.certify", enrolment_id, said)
    checkpoint = checkpointing.issue(act.session, pen.house, act.at, known)
    data = bundling.finish(act.session, fields, lists, placed.seq, checkpoint)
    verdict = bundling.judged(data, papers.school.vkey)
    if verdict.code:
        raise TornError(
            say("The copy does not hold: {line} Run windtee verify.", line=verdict.line)
        )
    row = CertifiedCopy(
        id=new_id(),
        enrolment_id=enrolment_id,
        made_by=act.actor.person_id,
        made_at=act.at,
        seq=placed.seq,
        size=checkpoint.size,
        sha256=sha256_hex(data),
        content=copies.pack(data),
    )
    act.session.add(row)
    act.session.flush()
    facts = {"purpose": made.purpose.value, "missing": len(shown["missing"])}
    act.note(action, row.id, enrolment_id, sha256=row.sha256, **facts)
    return Issued(row, checkpoint)


def _pen(act: Act) -> Pen:
    if act.pen is None:
        raise RuntimeError("a copy is made with a pen")
    return act.pen


def _check_unaltered(act: Act, papers: Papers) -> None:
    """Prove every record first: nobody certifies rows that differ from what was signed."""
    for record in papers.records:
        proof = signatures.proof_of(act.session, record)
        if not proof.unaltered:
            raise signatures.not_certified(record.sequence, proof.words)


def take_away(act: Act, copy_id: str, form: str) -> CertifiedCopy:
    """A copy to be downloaded as `file` or `pdf`; who took it is noted. 10 an hour."""
    row = copies.copy(act.session, act.actor, Action.COPY_READ, copy_id)
    check_rate(act)
    act.note(Action.COPY_READ, row.id, row.enrolment_id, form=form)
    return row

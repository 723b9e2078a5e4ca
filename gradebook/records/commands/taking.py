"""Records of other schools: judged, taken in as they came, never merged with our own."""

from dataclasses import dataclass

from gradebook.ledger.bundle import Verdict, fingerprint, verify_bundle
from gradebook.ledger.bundle_file import Bundle, read_bundle
from gradebook.ledger.canonical import MalformedError, sha256_hex
from gradebook.records.act import Act
from gradebook.records.copying.shape import MOST, shown_in
from gradebook.records.faults import ConflictError, InvalidError, Problem
from gradebook.records.permissions import Action
from gradebook.records.store import copies, enrolments, people, schoolkeys
from gradebook.records.tables.columns import new_id
from gradebook.records.tables.ledger import ForeignRecord, TrustedKey
from syllabus.saying import say

UNVERIFIED = 4
MOST_WORDS = 400


@dataclass(frozen=True, slots=True)
class Foreign:
    """A file of another school as read: what it says of itself, and whether its key is known.

    `verdict` is over the whole file: 0 under a key trusted here, 4 under any other.
    """

    data: bytes
    bundle: Bundle
    shown: dict[str, object]
    fingerprint: str
    verdict: Verdict

    @property
    def trusted(self) -> bool:
        """Whether the school's key is one that a chief instructor compared."""
        return self.verdict.code == 0

    @property
    def sha256(self) -> str:
        """The SHA-256 of the file."""
        return sha256_hex(self.data)


@dataclass(frozen=True, slots=True)
class Take:
    """Take a file in. `typed` is the fingerprint from paper or phone; empty: as unverified.

    `words` say where the fingerprint came from.
    """

    enrolment_id: str
    trust: bool
    typed: str
    words: str


def read_foreign(act: Act, data: bytes) -> Foreign:
    """Judge a file; InvalidError at `file` with the verdict when it does not hold."""
    if len(data) > MOST:
        raise InvalidError(
            Problem("file", say("Larger than 10 MiB: this is no record of training."))
        )
    if data.startswith(b"%PDF"):
        words = say(
            "This is the PDF: choose the file that is attached to it (.windtee-record)."
        )
        raise InvalidError(Problem("file", words))
    alone = verify_bundle(data, None)
    if alone.code:
        raise InvalidError(Problem("file", say("{line} It was not taken in.", line=alone.line)))
    bundle = read_bundle(data)
    print_of_key = fingerprint(bundle.vkey)
    school = people.school(act.session)
    ours = schoolkeys.succession(act.session)
    if school is not None and bundle.vkey in map(ours.line_of, ours.keys):
        raise InvalidError(
            Problem("file", say("This record is of this school: it is here already."))
        )
    trusted = (copies.trusted_key(act.session, one) for one in alone.prints)
    known = next((one for one in trusted if one is not None), None)
    verdict = verify_bundle(data, known.vkey if known else "")
    try:
        shown = shown_in(data)
    except (MalformedError, ValueError) as fault:
        raise InvalidError(
            Problem("file", say("Its content cannot be shown: {fault}.", fault=fault))
        ) from fault
    return Foreign(data, bundle, shown, print_of_key, verdict)


def take(act: Act, command: Take, foreign: Foreign) -> ForeignRecord:
    """Keep the file beside an enrolment, and state so; trust its key where that is asked."""
    row = enrolments.enrolment(
        act.session, act.actor, Action.FOREIGN_TAKE, command.enrolment_id
    )
    sha256 = foreign.sha256
    if any(one.sha256 == sha256 for one in copies.foreign_of(act.session, row.id)):
        raise ConflictError(say("This very file has been taken in already."))
    if command.trust and not foreign.trusted:
        trust(act, foreign, command.typed, command.words)
    sure = command.trust or foreign.trusted
    kept = ForeignRecord(
        id=new_id(),
        enrolment_id=row.id,
        origin=foreign.bundle.origin,
        fingerprint=foreign.fingerprint,
        sha256=sha256,
        content=copies.pack(foreign.data),
        verdict=0 if sure else UNVERIFIED,
        words=_verdict_words(foreign, sure=sure),
        taken_by=act.actor.person_id,
        taken_at=act.at,
    )
    act.session.add(kept)
    act.session.flush()
    names = ("origin", "fingerprint", "sha256", "verdict", "words")
    said = {"foreign": kept.id, **{one: getattr(kept, one) for one in names}}
    act.state("foreign.take", row.id, said)
    act.note(Action.FOREIGN_TAKE, kept.id, row.id, sha256=sha256, verdict=kept.verdict)
    return kept


def _verdict_words(foreign: Foreign, *, sure: bool) -> str:
    if sure:
        return say("Whole and unaltered, certified by {origin}.", origin=foreign.bundle.origin)
    return say("Unverified: the file agrees with itself, but nobody here has compared its key.")


def trust(act: Act, foreign: Foreign, typed: str, words: str) -> TrustedKey:
    """Trust another school's key: its fingerprint, typed from paper or phone, must fit."""
    problems = []
    if _digits(typed) != _digits(foreign.fingerprint):
        said = say(
            "This is not the fingerprint of the file's key. Compare it with the paper again."
        )
        problems.append(Problem("typed", said))
    if not words.strip():
        problems.append(Problem("words", say("Say where you have the fingerprint from.")))
    if len(words) > MOST_WORDS:
        problems.append(
            Problem(
                "words", say("Keep it under {most_words} characters.", most_words=MOST_WORDS)
            )
        )
    if problems:
        raise InvalidError(*problems)
    row = TrustedKey(
        id=new_id(),
        fingerprint=foreign.fingerprint,
        vkey=foreign.bundle.vkey,
        words=words.strip(),
        trusted_by=act.actor.person_id,
        trusted_at=act.at,
    )
    act.session.add(row)
    act.session.flush()
    told = {"fingerprint": row.fingerprint, "vkey": row.vkey, "words": row.words}
    act.state("foreign.trust", None, told)
    act.note(Action.FOREIGN_TAKE, row.id, trusted=row.fingerprint)
    return row


def _digits(typed: str) -> str:
    """The digits of a fingerprint, however it is spaced."""
    return "".join(one for one in typed.lower() if one in "0123456789abcdef")

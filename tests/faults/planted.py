"""Planted bugs: small production functions spoilt on purpose, to see that the machine notices.

Everywhere else nothing of our own is ever replaced in a test; this is the exception.
"""

from collections.abc import Callable, Mapping
from contextlib import suppress
from types import SimpleNamespace
from typing import Any

from pytest import MonkeyPatch  # noqa: PT013 - outside of a test

from gradebook.ledger import tree
from gradebook.records import act as acts
from gradebook.records import independence, lifecycle, permissions
from gradebook.records.commands import answering, enrolling, needling, opening, signing
from gradebook.records.permissions import ANY, Action, Role
from gradebook.records.remembering import Memory
from gradebook.records.store import gate, ledger
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.values import State

Plant = Callable[[MonkeyPatch], None]


def _matrix(action: Action, role: Role) -> Plant:
    """Let a role do an act to anybody's."""
    matrix = dict(permissions.MATRIX)
    matrix[action] = {**matrix[action], role: ANY}
    return lambda patch: patch.setattr(permissions, "MATRIX", matrix)


def _possible(action: Action, state: State) -> Plant:
    """Let an act happen in one more state."""
    possible = dict(lifecycle.POSSIBLE)
    possible[action] = possible[action] | {state}
    return lambda patch: patch.setattr(lifecycle, "POSSIBLE", possible)


def _open_gate(patch: MonkeyPatch) -> None:
    patch.setattr(gate, "authorise", lambda *_: None)


def _signs_stale(patch: MonkeyPatch) -> None:
    real = signing.sign_record

    def sign(act: Any, command: Any) -> Any:
        row = act.session.get(LessonRecord, command.record_id)
        version = command.version if row is None else row.version
        return real(act, signing.SignRecord(command.record_id, version))

    patch.setattr(signing, "sign_record", sign)


def _saves_stale(patch: MonkeyPatch) -> None:
    real = opening._put
    patch.setattr(
        opening, "_put", lambda act, row, _version, card: real(act, row, row.version, card)
    )


def _supersedes_nothing(patch: MonkeyPatch) -> None:
    def supersede(act: Any, record: Any) -> str | None:
        original = act.session.get(LessonRecord, record.supersedes_id or "")
        return None if original is None else original.digest

    patch.setattr(signing, "_supersede", supersede)


def _says_nothing(kind: str) -> Plant:
    """Leave one kind of statement out of the ledger."""

    def plant(patch: MonkeyPatch) -> None:
        real = acts.Act.state

        def state(act: Any, said: str, enrolment: Any, body: Any) -> Any:
            return None if said == kind else real(act, said, enrolment, body)

        patch.setattr(acts.Act, "state", state)

    return plant


def _notes_nothing(patch: MonkeyPatch) -> None:
    patch.setattr(acts.Act, "note", lambda *_, **__: None)


def _reuses_prev(patch: MonkeyPatch) -> None:
    real = ledger.tip

    def tip(session: Any) -> Any:
        end = real(session)
        known = ledger.at(session, end.size)
        if known is not None and known.prev is not None:
            end.leaf = known.prev
        return end

    patch.setattr(ledger, "tip", tip)


def _wrong_tree(patch: MonkeyPatch) -> None:
    real = tree.append

    def append(size: int, leaf: bytes, nodes: Any) -> Any:
        made = list(real(size, leaf, nodes))
        return [*made[:-1], leaf] if len(made) > 1 else made

    patch.setattr(tree, "append", append)


def _always_agrees(patch: MonkeyPatch) -> None:
    real = answering.answer_of
    patch.setattr(answering, "answer_of", lambda row: {**real(row), "agrees": True})


def _independent(patch: MonkeyPatch) -> None:
    verdict = independence.Verdict((), excepted=False, hint="")
    patch.setattr(independence, "judge", lambda _facts: verdict)


def _reuses_approval(patch: MonkeyPatch) -> None:
    real = signing.seal

    def seal(act: Any, record: Any, *rest: Any) -> None:
        real(act, record, *rest)
        for row in record.enrolment.approvals:
            if row.record_id == record.id:
                row.record_id = None

    patch.setattr(signing, "seal", seal)


def _never_ends(patch: MonkeyPatch) -> None:
    real = enrolling.end_enrolment

    def end(act: Any, command: Any) -> Any:
        row = real(act, command)
        act.session.flush()
        row.ended_on, row.ended_how = None, None
        return row

    patch.setattr(enrolling, "end_enrolment", end)


def _stays_acknowledged(patch: MonkeyPatch) -> None:
    real = signing.seal

    def seal(act: Any, record: Any, *rest: Any) -> None:
        real(act, record, *rest)
        if record.supersedes_id:
            record.state = State.ACKNOWLEDGED.value

    patch.setattr(signing, "seal", seal)


def _leaves_needle(patch: MonkeyPatch) -> None:
    patch.setattr(needling, "take_in", lambda *_: None)


def _needle_keeps_void(patch: MonkeyPatch) -> None:
    patch.setattr(answering, "needling", SimpleNamespace(rebuild=lambda *_: 0))


def _opens_twice(patch: MonkeyPatch) -> None:
    patch.setattr(opening.lessons, "draft_of", lambda *_: None)


def _loses_remarks(patch: MonkeyPatch) -> None:
    real = signing.seal

    def seal(act: Any, record: Any, *rest: Any) -> None:
        real(act, record, *rest)
        with suppress(IndexError):
            record.grades[-1].remark = ""

    patch.setattr(signing, "seal", seal)


def _remembers_too_long(patch: MonkeyPatch) -> None:
    real = Memory.recall

    def recall(self: Memory, marks: Mapping[str, object]) -> Any:
        return real(self, {name: self._held[name].mark for name in marks if name in self._held})

    patch.setattr(Memory, "recall", recall)


PLANTED: Mapping[str, Plant] = {
    "the gate lets everybody through": _open_gate,
    "any instructor amends": _matrix(Action.RECORD_AMEND, Role.INSTRUCTOR),
    "an administrator declares void": _matrix(Action.RECORD_VOID, Role.ADMINISTRATOR),
    "any student acknowledges": _matrix(Action.RECORD_ACKNOWLEDGE, Role.STUDENT),
    "any instructor ends an enrolment": _matrix(Action.END, Role.INSTRUCTOR),
    "a record is acknowledged twice": _possible(Action.RECORD_ACKNOWLEDGE, State.ACKNOWLEDGED),
    "what is superseded is amended": _possible(Action.RECORD_AMEND, State.SUPERSEDED),
    "what is void is acknowledged": _possible(Action.RECORD_ACKNOWLEDGE, State.VOID),
    "a signature takes any version": _signs_stale,
    "a save takes any version": _saves_stale,
    "an amendment supersedes nothing": _supersedes_nothing,
    "void is not stated": _says_nothing("record.void"),
    "an approval is not stated": _says_nothing("check.approve"),
    "the ledger links to the entry before last": _reuses_prev,
    "the tree forgets a node": _wrong_tree,
    "nothing is noted in the trail": _notes_nothing,
    "every answer agrees": _always_agrees,
    "the recommender may check": _independent,
    "an approval serves twice": _reuses_approval,
    "an ended enrolment goes on": _never_ends,
    "an amendment needs no new answer": _stays_acknowledged,
    "the needle misses a signature": _leaves_needle,
    "the needle keeps what is void": _needle_keeps_void,
    "a lesson has two drafts of one author": _opens_twice,
    "a remark is lost after signing": _loses_remarks,
    "readers remember what is no longer so": _remembers_too_long,
}

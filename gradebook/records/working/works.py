"""What each kind of long work does. Signed is what the school's own key may sign, no more."""

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from gradebook.exchange.table import TableRead
from gradebook.exchange.workbook import read_file
from gradebook.records import checkpoints
from gradebook.records.act import Act
from gradebook.records.commands import importing, importing_lessons
from gradebook.records.commands.importing import Plan
from gradebook.records.faults import ConflictError, InvalidError, Problem
from gradebook.records.importing import LAYOUTS, STUDENTS
from gradebook.records.jobs import Kind, Tell, silent
from gradebook.records.permissions import Action
from gradebook.records.store import gate, jobs, people, proof, schoolkeys
from gradebook.records.store.jobs import Job
from gradebook.records.store.proof import Proof
from gradebook.records.working.waiting import uploaded
from gradebook.settings import Settings
from syllabus.saying import say

MOST_TOLD = 200
NOT_HERE = say("The file is not here any more: choose it again.")


class FaultyError(InvalidError):
    """A file has faults; `faults` are the first of them: line, column, words."""

    def __init__(self, plan: Plan) -> None:
        number = len(plan.faults)
        words = say("Faults in the file: {n}; nothing was written.", n=number)
        super().__init__(Problem("file", words))
        self.faults = [asdict(one) for one in plan.faults[:MOST_TOLD]]


class AlreadyError(ConflictError):
    """All that is in a file was written by an import of this very file."""

    def __init__(self) -> None:
        super().__init__(say("This file is imported already."))


@dataclass(frozen=True, slots=True)
class Site:
    """What work needs of the installation, and whom it tells how far it is."""

    settings: Settings
    tell: Tell

    @property
    def places(self) -> tuple[Path, ...]:
        """The folders that checkpoints are written to."""
        return checkpoints.folders(self.settings.data, self.settings.outside)


def bring_in(site: Site, act: Act, job: Job) -> dict[str, Any]:
    """Check a file against the school as it is now, and write all of it.

    AlreadyError when it cannot be written since an import of this very file wrote it.
    """
    gate.demand(act.actor, Action.IMPORT)
    digest = job.wanted["subject"]
    try:
        return _bring_in(site, act, uploaded(site.settings.data, digest), job.wanted["reason"])
    except InvalidError as fault:
        if jobs.brought_in(act.session, act.actor, digest) is None:
            raise
        raise AlreadyError from fault


def _bring_in(site: Site, act: Act, kept: Path, reason: str) -> dict[str, Any]:
    if not kept.exists():
        raise InvalidError(Problem("file", NOT_HERE))
    table = read_file(kept.read_bytes(), LAYOUTS)
    plan = plan_of(act, table, reason, site.tell)
    if plan.faults:
        raise FaultyError(plan)
    if table.layout is STUDENTS:
        return {"students": importing.import_students(act, plan, site.tell)}
    number = importing_lessons.import_lessons(act, plan, site.tell)
    return {"lessons": number, "grades": plan.n_grades}


def plan_of(act: Act, table: TableRead, reason: str, tell: Tell = silent) -> Plan:
    """What a file would write into the school as it is now, or every fault in it."""
    if table.faults or table.layout is None:
        return Plan(faults=table.faults)
    if table.layout is STUDENTS:
        return importing.plan_students(act, table.rows, tell)
    return importing_lessons.plan_lessons(act, table.rows, reason, tell)


def prove(site: Site, act: Act, job: Job) -> dict[str, Any]:
    """Prove the whole ledger; the result, its first findings in words."""
    del job
    gate.demand(act.actor, Action.AUDIT_READ)
    school = people.school(act.session)
    if school is None:
        raise InvalidError(Problem("", say("There is no school here yet.")))
    with checkpoints.ours():
        line = schoolkeys.succession(act.session)
        outside = list(checkpoints.kept(site.places, line))
    found = proof.prove(act.session, school.vkey, outside, site.tell)
    return result_of(found)


def result_of(found: Proof) -> dict[str, Any]:
    """A proof as pages show it: its sums, and the first findings in words."""
    sums = ("code", "size", "rows", "events", "checkpoints")
    told = {name: getattr(found, name) for name in sums}
    findings = [{"seq": one.seq, "words": one.words} for one in found.findings[:MOST_TOLD]]
    numbers = {"erased": len(found.erased), "number": len(found.findings)}
    return {**told, **numbers, "findings": findings}


Work = Callable[[Site, Act, Job], dict[str, Any]]

WRITES: Mapping[Kind, Work] = {Kind.IMPORT: bring_in}
"""Work that writes, all in the transaction in which it is said to be done."""
READS: Mapping[Kind, Work] = {Kind.PROVE: prove}
"""Work that only reads; what came of it is written down afterwards."""

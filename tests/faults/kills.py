"""The drill of sudden death: server and database are killed while people sign."""

from dataclasses import dataclass
from pathlib import Path
from random import Random

from tests.cast import close_school
from tests.faults import keeping
from tests.faults.clients import Browser, Client, Progress
from tests.faults.drillschool import DrillSchool
from tests.faults.history import Tally, tally
from tests.faults.processes import (
    KINDS,
    Group,
    kill_database,
    running_group,
    start_database,
)
from tests.postgres import Cluster

MORE = 12
"""Drafts given to each client at a time."""
DATABASE_TOO = 0.25
"""The share of kills on PostgreSQL that take every process of the database along."""


@dataclass(frozen=True, slots=True)
class Plan:
    """How often to kill, by which dice, and which planted mistake to make (none).

    `longest`: the most requests sent and answered between two kills.
    """

    kills: int
    seed: int = 1
    clients: int = 5
    longest: int = 10
    mistake: str = ""


class Drill:
    """One run: a school, its server, clients that sign, and somebody who kills."""

    def __init__(
        self, plan: Plan, data: Path, url: str | None, cluster: Cluster | None
    ) -> None:
        self.plan, self.cluster = plan, cluster
        self.random = Random(plan.seed)  # noqa: S311 - dice of a drill
        self.made = DrillSchool(data, url, plan.clients)
        self.url = self.made.school.settings.database
        self.progress, self.clients = Progress(), list[Client]()
        self.records: list[str] = []

    def run(self) -> Tally:
        """Kill as planned, let everybody finish, and compare."""
        data = self.made.school.settings.data
        try:
            with running_group(data, self.url, self.plan.mistake) as group:
                self._begin(group)
                for _ in range(self.plan.kills):
                    self._round(group)
                self._finish()
            return self._compare()
        finally:
            close_school(self.made.school)

    def _begin(self, group: Group) -> None:
        for name in self.made.teachers:
            browser = Browser(group.address, name)
            browser.sign_in()
            client = Client(browser, self.progress)
            self.clients.append(client)
            client.start()

    def _round(self, group: Group) -> None:
        self._supply()
        assert self.progress.wait_for(self.random.randint(1, self.plan.longest)), (
            "nothing happens"
        )
        if self.cluster is not None and self.random.random() < DATABASE_TOO:
            kill_database(self.cluster)
            group.strike("group", self.random)
            start_database(self.cluster)
        else:
            group.strike(self.random.choice(KINDS), self.random)

    def _supply(self) -> None:
        """Give more drafts to whoever could run out before the next kill."""
        self.made.forgive()
        for name, client in zip(self.made.teachers, self.clients, strict=True):
            if client.drafts.qsize() < MORE // 2:
                for draft in self.made.drafts(name, MORE):
                    self.records.append(draft.record)
                    client.drafts.put(draft)

    def _finish(self) -> None:
        """Let what is being sent be settled; what is only in the queue stays a draft."""
        for client in self.clients:
            while not client.drafts.empty():
                client.drafts.get()
            client.drafts.put(None)
        for client in self.clients:
            client.join()

    def _compare(self) -> Tally:
        attempts = [one for client in self.clients for one in client.attempts]
        with self.made.school.database.read() as session:
            held = keeping.kept(session, self.records)
        found = tally(attempts, held)
        keeping.prove(self.made.school, found)
        return found


def killing(
    plan: Plan, data: Path, url: str | None = None, cluster: Cluster | None = None
) -> Tally:
    """Run the drill in the folder `data`: on SQLite, or on the database at `url`.

    With a cluster, its processes are killed too.
    """
    return Drill(plan, data, url, cluster).run()

"""Clients that sign over HTTP and write down what they were told."""

import http.client
import re
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass
from queue import SimpleQueue
from types import MappingProxyType
from urllib.parse import urlencode

from tests.cast import SECRET, TOKEN
from tests.faults.drillschool import Draft
from tests.faults.history import Attempt

PLACE = re.compile(r"Entry (\d+) of the school's ledger.*?SHA-256 ([0-9a-f]{16})", re.DOTALL)
PATIENCE = 60.0
"""Seconds without an answer after which a client gives a request up."""
NONE: Mapping[str, str] = MappingProxyType({})
NO_ANSWER = (OSError, http.client.HTTPException)


@dataclass(frozen=True, slots=True)
class Answer:
    """Status, where it leads, and text of one answer."""

    status: int
    leads_to: str
    text: str


class Browser:
    """One signed-in browser without script: cookies, a token, an address.

    `named` is the server it asks for, where that is not whom it connects to.
    """

    def __init__(self, address: tuple[str, int], name: str) -> None:
        self.address, self.name = address, name
        self.named = address
        self.cookies: dict[str, str] = {}
        self.token = ""

    def sign_in(self, email: str = "", secret: str = SECRET) -> None:
        """Sign in, by the name at the tests' school or another address; keep a page's token."""
        self.ask("GET", "/sign-in")
        email = email or f"{self.name}@school.example"
        done = self.ask("POST", "/sign-in", email=email, secret=secret)
        assert done.status == 303, done
        self.ask("GET", "/")

    def ask(self, method: str, path: str, **fields: str) -> Answer:
        """One request on a connection of its own; OSError or HTTPException: no answer."""
        if method != "POST":
            return self.exchange(method, path)
        form = urlencode({"csrf_token": self.token, **fields}).encode()
        headers = {"Content-Type": "application/x-www-form-urlencoded"}
        return self.exchange(method, path, form, headers)

    def exchange(
        self,
        method: str,
        path: str,
        body: bytes | None = None,
        headers: Mapping[str, str] = NONE,
    ) -> Answer:
        """The same with a body and headers beside those that every browser sends."""
        connection = http.client.HTTPConnection(*self.address, timeout=PATIENCE)
        host = "{}:{}".format(*self.named)
        usual = {
            "Host": host,
            "Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items()),
            "Origin": f"http://{host}",
            "Connection": "close",
        }
        try:
            connection.request(method, path, body, {**usual, **headers})
            answer = connection.getresponse()
            text = answer.read().decode()
        finally:
            connection.close()
        for cookie in answer.headers.get_all("Set-Cookie", ()):
            name, _, value = cookie.partition(";")[0].partition("=")
            self.cookies[name] = value
        found = TOKEN.search(text)
        self.token = found[1] if found else self.token
        return Answer(answer.status, answer.headers.get("Location", ""), text)

    def send(self, draft: Draft) -> Answer:
        """Send the signature of a draft, and nothing more."""
        fields = {"version": str(draft.version), "secret": SECRET}
        return self.ask("POST", f"/lessons/{draft.record}/sign", **fields)

    def sign(self, draft: Draft) -> Attempt:
        """Send the signature; what came of it, with place and digest from the record's page."""
        sent = time.monotonic()
        try:
            done = self.send(draft)
        except NO_ANSWER:
            return Attempt(draft.record, sent, time.monotonic(), None)
        answered = time.monotonic()
        if done.status != 303 or not done.leads_to.endswith(f"/records/{draft.record}"):
            return Attempt(draft.record, sent, answered, done.status)
        seq, digest = self.place(draft.record)
        return Attempt(draft.record, sent, answered, 303, seq, digest)

    def place(self, record: str) -> tuple[int | None, str]:
        """What the record's page says: place in the ledger and beginning of the digest."""
        try:
            found = PLACE.search(self.ask("GET", f"/records/{record}").text)
        except NO_ANSWER:
            return None, ""
        return (int(found[1]), found[2]) if found else (None, "")


class Progress:
    """How much has happened so far, for whoever waits for more of it."""

    def __init__(self) -> None:
        self.happened, self._changed = 0, threading.Condition()

    def step(self) -> None:
        """One more thing happened."""
        with self._changed:
            self.happened += 1
            self._changed.notify_all()

    def wait_for(self, more: int) -> bool:
        """Wait until so much more has happened; False when it takes longer than patience."""
        with self._changed:
            wanted = self.happened + more
            return self._changed.wait_for(lambda: self.happened >= wanted, timeout=PATIENCE)


class Client(threading.Thread):
    """Signs the drafts it is given, and those without an answer again until there is one."""

    def __init__(self, browser: Browser, progress: Progress) -> None:
        super().__init__(daemon=True)
        self.browser, self.progress = browser, progress
        self.drafts: SimpleQueue[Draft | None] = SimpleQueue()
        self.attempts: list[Attempt] = []

    def run(self) -> None:
        """Sign until None comes."""
        while (draft := self.drafts.get()) is not None:
            self._settle(draft)

    def _settle(self, draft: Draft) -> None:
        while True:
            self.progress.step()
            attempt = self.browser.sign(draft)
            self.attempts.append(attempt)
            self.progress.step()
            if attempt.status in (303, 409):
                return

"""A school whose line can fail, and phones with real browsers on the ramp."""

import os
import re
import signal
import socket
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from select import select as wait_for
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Error, Locator, Page, expect
from sqlalchemy import select

from gradebook import assets, clock
from gradebook.assets import Asset
from gradebook.ledger.chain import Finding
from gradebook.records.store import people, proof
from gradebook.records.tables.deliveries import Delivery
from gradebook.records.tables.ledger import LedgerEntry
from gradebook.records.tables.lessons import LessonRecord
from tests import run
from tests.cast import SECRET, TestSchool, close_school, open_school
from tests.chromium import FLAGS, PATIENCE
from tests.serving import served
from tests.small_course import FILES

SMALL = {"width": 360, "height": 740}
WORDS = "Wind from the sea; calm hands, \u00e6\u00f8\u00e5 and \U0001f681 too."
CARD = re.compile(r"PUT /api/lessons/|POST /lessons/\w+$")
"""Requests that bring a card to the school."""
SCRIPT = """async (given) => {
  const load = (name) => import(`/static/%s/js/phone/${name}.js`);
  const [db, vault, letters] = await Promise.all(["db", "vault", "letters"].map(load));
  const [outbox, pocket] = await Promise.all(["outbox", "pocket"].map(load));
  const pages = await load("pages");
  %s
}"""


class Line:
    """The way to the server: what came through, and answers to cards cut off once given."""

    def __init__(self, app: Any) -> None:
        self.app = app
        self.seen: list[str] = []
        self.cuts = 0
        self.down = False

    def __call__(self, environ: dict[str, Any], start: Any) -> Iterable[bytes]:
        """Serve a request; with a cut left, a delivery's answer never arrives; or nothing."""
        if self.down:
            environ["werkzeug.socket"].shutdown(socket.SHUT_RDWR)
            start("503 Service Unavailable", [])
            return []
        asked = f"{environ['REQUEST_METHOD']} {environ['PATH_INFO']}"
        self.seen.append(asked)
        answer: Iterable[bytes] = self.app(environ, start)
        if self.cuts and CARD.match(asked):
            self.cuts -= 1
            environ["werkzeug.socket"].shutdown(socket.SHUT_RDWR)
        return answer

    def deliveries(self) -> int:
        """How many letters were sent so far, taken or not."""
        return sum(one.startswith("PUT /api/lessons/") for one in self.seen)


@dataclass
class Field:
    """A served school, and the browser that its people use."""

    school: TestSchool
    address: str
    line: Line
    browser: Browser
    contexts: list[BrowserContext] = field(default_factory=list)

    def phone(self, name: str = "ben", **more: Any) -> "Phone":
        """A phone that is signed in and shows the first page, in a context of its own."""
        phone = self._signed_in(name, **more)
        phone.go("/")
        return phone

    def ready_phone(self) -> "Phone":
        """Ben's, set up to sign at once."""
        phone = self._signed_in("ben")
        phone.set_up()
        return phone

    def _signed_in(self, name: str, **more: Any) -> "Phone":
        context = self.browser.new_context(viewport=SMALL, **more)
        self.contexts.append(context)
        cookie = self.school.visitor(name).client.get_cookie("windtee_session")
        assert cookie is not None
        entry = {"name": cookie.key, "value": cookie.value, "url": self.address}
        context.add_cookies([entry])
        return Phone(context.new_page(), self.address)

    def records(self) -> list[LessonRecord]:
        """Every lesson record, the oldest first."""
        with self.school.database.read() as session:
            query = select(LessonRecord).order_by(LessonRecord.created_at, LessonRecord.id)
            return list(session.scalars(query))

    def signed(self) -> int:
        """How many records the ledger says were signed."""
        with self.school.database.read() as session:
            kinds = session.scalars(select(LedgerEntry.kind))
            return sum(kind == "record.sign" for kind in kinds)

    def findings(self) -> list[Finding]:
        """What reading the ledger from its first entry finds wrong."""
        with self.school.database.read() as session:
            school = people.school(session)
            assert school is not None
            return proof.prove(session, school.vkey).findings

    def taken(self) -> list[Delivery]:
        """Every letter that was taken."""
        with self.school.database.read() as session:
            return list(session.scalars(select(Delivery).order_by(Delivery.received_at)))


@contextmanager
def opened_field(
    data: Path,
    browser: Browser,
    mutate: tuple[str, str, str] | None = None,
    files: Mapping[str, str] = FILES,
) -> Iterator[Field]:
    """A school at the present day, served. `mutate`: a script, words in it, and others."""
    school = open_school(data, files=files)
    school.clock.at = clock.now()
    line = Line(school.app.wsgi_app)
    school.app.wsgi_app = line
    with served(school.app) as address, pytest.MonkeyPatch.context() as patched:
        if mutate:
            changed = _mutated(*mutate)
            patched.setattr(assets, "assets", lambda: changed)
        found = Field(school, address, line, browser)
        try:
            yield found
        finally:
            for context in found.contexts:
                context.close()
    close_school(school)


def assert_met(
    browser: Browser,
    data: Path,
    planted: tuple[str, str, str],
    check: Callable[[Field], None],
    words: str | None = None,
) -> None:
    """A check fails once this fault is planted in a script; `words` stand in what it says.

    It fails at once and not by waiting: what stands when a page has done its work is asserted
    then, so that a slow machine fails no check and meets no fault.
    """
    with (
        opened_field(data, browser, planted) as field,
        pytest.raises((AssertionError, Error), match=words),
    ):
        check(field)


def _mutated(script: str, words: str, instead: str) -> Mapping[str, Asset]:
    found = dict(assets.assets())
    name = f"js/{script}"
    text = found[name].content.decode()
    assert words in text, f"{script} has changed: nothing to mutate"
    found[name] = Asset(found[name].kind, text.replace(words, instead).encode(), {})
    return found


@dataclass
class Phone:
    """One page of a phone in somebody's hands."""

    page: Page
    address: str

    @property
    def status(self) -> Locator:
        """What the bar under the card says."""
        return self.page.locator("[data-status]")

    @property
    def unsent(self) -> Locator:
        """The number in the head of the page."""
        return self.page.locator("[data-unsent]")

    @property
    def all_sent(self) -> Locator:
        """There once nothing waits."""
        return self.page.locator("[data-unsent='0'][hidden]")

    @property
    def stuck(self) -> Locator:
        """What the page says once the school has refused something."""
        return self.page.locator("[data-notice=stuck]")

    def remarks(self) -> str:
        """What stands in the remarks, once the card has taken up what the phone holds."""
        self.followed()
        return self.page.get_by_label("Remarks", exact=True).input_value()

    def go(self, path: str) -> None:
        """Open a page."""
        self.page.goto(self.address + path)

    def sign_in(self, name: str = "ben") -> None:
        """Sign in by the form, wherever the phone is led to."""
        self.go("/sign-in")
        self.page.get_by_label("E-mail address").fill(f"{name}@school.example")
        self.page.get_by_label("Secret").fill(SECRET)
        self.page.get_by_role("main").get_by_role("button", name="Sign in").click()
        expect(self.page.get_by_role("button", name="Menu")).to_be_visible()

    def set_up(self, name: str = "The phone") -> None:
        """Make this phone one that signs; its cards come along."""
        self.go("/account/phones")
        self.page.get_by_label("What do you call it?").fill(name)
        self.page.get_by_label("Your secret").fill(SECRET)
        self.page.get_by_role("button", name="Set this phone up").click()
        self.page.wait_for_url("**/phone")
        expect(self.page.locator("[data-check='Opens without a network']")).to_contain_text(
            "yes"
        )

    def lose_network(self) -> None:
        """Walk out of reach, until the worker knows it too."""
        self.page.context.set_offline(True)
        probe = self.page.context.new_page()
        with suppress(Error):  # without a worker nothing stands in
            reach_shell(probe, self.address + "/alive")
        probe.close()

    def find_network(self) -> None:
        """Walk back."""
        self.page.context.set_offline(False)

    def open_from_pocket(self) -> None:
        """Open the first card of those taken along."""
        reach_shell(self.page, self.address + "/")
        self.page.get_by_role("link", name="Grade S-0").first.click()
        expect(self.page.locator("form[data-card]")).to_be_visible()

    def followed(self) -> None:
        """Wait until the card's script follows every change, and says so in the bar at once."""
        expect(self.page.locator("form[data-card][data-followed]")).to_be_visible()

    def type_remark(self, words: str = WORDS) -> None:
        """Type into the remarks; nothing is claimed before the phone says where it is kept."""
        self.followed()
        self.page.get_by_label("Remarks", exact=True).fill(words)

    def fill_card(self, words: str = WORDS) -> None:
        """Everything that a card needs before it can be signed."""
        page = self.page
        page.get_by_role("radio", name="Perform").first.click()
        self.fill_rest(words)
        page.get_by_role("radio", name="Complete", exact=True).click()

    def fill_rest(self, words: str) -> None:
        """What a card needs besides the grades that somebody chose and the outcome."""
        page = self.page
        page.get_by_role("button", name="Set all tasks not graded yet").click()
        page.get_by_label("Registration").fill("KM-H1")
        page.get_by_label("Dual received").fill("1.2")
        self.type_remark(words)

    def sign(self) -> None:
        """From the card over the review to the signature."""
        self.page.get_by_role("button", name="Review").click()
        secret = self.page.get_by_label("Your secret")
        refused = self.page.get_by_text("to put right before this can be signed")
        expect(secret.or_(refused)).to_be_visible()
        assert not refused.count(), "the review asks for more"
        secret.fill(SECRET)
        self.page.get_by_role("button", name="Sign this record").click()

    def sign_away(self, *, unplug: bool = True) -> None:
        """Open a card out of reach, grade and sign it there."""
        if unplug:
            self.lose_network()
        self.open_from_pocket()
        self.fill_card()
        expect(self.status).to_contain_text("On this phone only")
        self.sign()
        expect(self.page.get_by_text("Signed and queued")).to_be_visible()
        expect(self.unsent).to_have_text("1 not sent")

    def run(self, words: str, given: object = None) -> Any:
        """What a script says that knows our modules, and `given`."""
        return self.page.evaluate(SCRIPT % (assets.version(), words), given)

    def sent(self) -> None:
        """Wait until nothing waits any more."""
        expect(self.all_sent).to_be_attached()

    def arrived(self, patience: int = PATIENCE) -> None:
        """The same where nothing may ever be refused on the way: a refusal ends it at once."""
        expect(self.all_sent.or_(self.stuck).first).to_be_attached(timeout=patience)
        assert not self.stuck.count(), "the school could not take it"


def reach_shell(page: Page, address: str) -> None:
    """Open an address until the worker, which learns later than pages do that no network is
    there, lets its own page stand in."""
    for _ in range(20):
        page.goto(address)
        if page.locator("[data-shell]").count():
            return


class KillableBrowser:
    """A browser with a profile on the disk, which can be killed at any moment."""

    def __init__(self, browser: Browser, profile: Path) -> None:
        self.kind, self.profile = browser.browser_type, profile
        self.context: BrowserContext | None = None

    def open(self) -> Page:
        """Start it anew on the same profile."""
        self.context = self.kind.launch_persistent_context(
            str(self.profile), executable_path=run.CHROMIUM, args=FLAGS, viewport=SMALL
        )
        return self.context.pages[0]

    def phone(self, address: str) -> "Phone":
        """Start it, signed in and set up to sign."""
        phone = Phone(self.open(), address)
        phone.sign_in()
        phone.set_up()
        return phone

    def close(self) -> None:
        """End it in order."""
        if self.context is not None:
            self.context.close()

    def kill(self) -> None:
        """SIGKILL for every process of this profile at once; all are gone afterwards."""
        assert self.context is not None
        with self.context.expect_event("close"):
            while pids := self._processes():
                for pid in pids:
                    _end(pid)
        for name in ("SingletonLock", "SingletonCookie", "SingletonSocket"):
            (self.profile / name).unlink(missing_ok=True)

    def _processes(self) -> list[int]:
        found = []
        for path in Path("/proc").glob("[0-9]*/cmdline"):
            with suppress(OSError):
                if str(self.profile).encode() in path.read_bytes():
                    found.append(int(path.parent.name))
        return sorted(found)


def _end(pid: int) -> None:
    """Kill a process, unless it has ended already, and wait until it is gone."""
    with suppress(ProcessLookupError):
        gone = os.pidfd_open(pid)
        signal.pidfd_send_signal(gone, signal.SIGKILL)
        wait_for([gone], [], [])
        os.close(gone)

"""What people hold in their hands: a link, a code generator, recovery codes."""

import re
from datetime import timedelta
from html import unescape

from pyotp import TOTP

from tests.cast import SECRET, TestSchool, Visitor

TYPED = re.compile(r'class="typed">([^<]+)<')
FIELD = r'name="{}"[^>]*value="([^"]*)"'
OWN = "nine lives of kites on a hill"
"""A secret somebody chooses."""


def link_on(page: str) -> str:
    """The path of the link that a page shows."""
    return unescape(TYPED.findall(page)[0]).split("localhost", 1)[1]


def hidden(page: str, name: str) -> str:
    """The value of a hidden field."""
    found = re.search(FIELD.format(name), page)
    assert found, page[:3000]
    return found[1]


class Generator:
    """A code generator as it was enrolled, and the codes that came with it."""

    def __init__(self, school: TestSchool, who: Visitor) -> None:
        page = who.get("/account/factors/code")
        self.school, self.totp = school, TOTP(TYPED.findall(page)[0].replace(" ", ""))
        sealed = {"sealed": hidden(page, "sealed"), "label": "my phone"}
        answer = who.send("/account/factors/code", {**sealed, "code": self.code()})
        self.recovery = TYPED.findall(answer.text)

    def code(self, steps: int = 0) -> str:
        """What it shows now, or so many steps of 30 seconds later."""
        return self.totp.at(self.school.clock.at + timedelta(seconds=30 * steps))


def joined(school: TestSchool, path: str, secret: str = OWN) -> Visitor:
    """Somebody who opened their link and set a secret."""
    who = school.visitor()
    who.get(path)
    who.post(path, new_secret=secret, again=secret)
    return who


def sign_in(school: TestSchool, name: str, secret: str = SECRET, status: int = 200) -> Visitor:
    """Somebody of the cast after the first step of signing in, wherever it leads."""
    who = school.visitor()
    who.get("/sign-in")
    who.post("/sign-in", status, email=f"{name}@school.example", secret=secret)
    return who


def enrolled(school: TestSchool, name: str) -> tuple[Visitor, Generator]:
    """Somebody of the cast signed in and holding a code generator, a minute ago."""
    who = sign_in(school, name)
    generator = Generator(school, who)
    school.clock.pass_minutes(1)
    return who, generator

"""Lessons of one student signed one after another away from the school.

What the phone states of each is what the school works out once those before have arrived.
"""

import json
from collections.abc import Iterator
from functools import cache
from random import Random
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from gradebook.records.card import Card
from gradebook.records.gauges import read_gauges
from gradebook.views.flow import stepped
from tests.pocket.browser import ask, judging_page, prepare
from tests.pocket.lessons_drawn import Program, drawn
from tests.pocket.program import packed
from tests.pocket.settings_drawn import settings_drawn

MANY = 500
BATCH = 25
FORM = ("carried", "last")
"""What the phone's form needs of a task and no statement holds."""


@cache
def asked(number: int) -> tuple[dict[str, Any], list[tuple[dict[str, Any], str]]]:
    """What the phone is asked, and what the program says: setting and text of each lesson."""
    program = Program(drawn(number))
    places = range(len(program.drawn.lessons))
    taken = [program.pocketed(place) for place in places]
    cards, told = [], []
    for place in places:
        cards.append(program.card(place))
        told.append(program.sign(place, cards[-1]))
    question = {"packed": taken, "cards": [card.as_json() for card in cards]}
    sent = json.loads(json.dumps(question, sort_keys=True))  # as our answers are sent
    return sent, told


def _plain(setting: dict[str, Any]) -> Any:
    """What a lesson signed before can change of a setting, as JSON."""
    tasks = [
        {name: value for name, value in task.items() if name not in FORM}
        for task in setting["tasks"]
    ]
    return json.loads(json.dumps({"tasks": tasks, "scales": setting["scales"]}))


def disagreements(page: Page, upto: int = MANY) -> Iterator[str]:
    """Which draw, which of its lessons, and what either says of it."""
    for start in range(0, upto, BATCH):
        numbers = range(start, min(start + BATCH, upto))
        questions, answers = zip(*map(asked, numbers), strict=True)
        told = ask(page, "stateAll", questions)
        for number, ours, theirs in zip(numbers, answers, told, strict=True):
            yield from _differences(number, ours, theirs)


def _differences(number: int, ours: list[Any], theirs: Any) -> Iterator[str]:
    if isinstance(theirs, dict):
        yield f"draw {number}: {theirs}"
        return
    for place, ((setting, text), other) in enumerate(zip(ours, theirs, strict=True)):
        if _plain(other["setting"]) != _plain(setting):
            yield f"draw {number}, lesson {place}:\n{setting}\n{other['setting']}"
        elif other["text"] != text:
            yield f"draw {number}, lesson {place}:\n{text}\n{other['text']}"


@pytest.fixture(scope="module")
def page(browser: Browser) -> Iterator[Page]:
    """A page with the scripts as they are."""
    with judging_page(browser) as opened:
        prepare(opened, [packed(one) for one in settings_drawn()], [])
        yield opened


def test_the_phone_states_what_the_school_will_work_out(page: Page) -> None:
    assert next(disagreements(page), None) is None


def test_the_lessons_drawn_depend_on_each_other() -> None:
    """Else agreeing would be no feat: what the phone took along is not what is stated."""
    changed, carried, attempts, amends = 0, 0, 0, 0
    for number in range(MANY):
        question, told = asked(number)
        for taken, (setting, text) in zip(question["packed"][1:], told[1:], strict=True):
            changed += _plain(taken["setting"]) != _plain(setting)
            carried += any(one["carried_from"] for one in setting["tasks"])
            attempts += f'"attempt":{taken["body"]["attempt"]},' not in text
        amends += drawn(number).amended is not None
    assert changed > MANY / 2
    assert min(carried, attempts, amends) > MANY / 20


MUTANTS = {
    "nothing is applied": (
        "rules/foreseen.js",
        "bodies.filter((body) => !known.has(body.record))",
        "[]",
    ),
    "the amended lesson still counts": ("rules/foreseen.js", "!gone.has(fact.record)", "true"),
    "the attempt as it was": (
        "rules/foreseen.js",
        "card.version ? body.attempt",
        "true ? body.attempt",
    ),
    "a lower target wins": ("rules/carryover.js", ") ? target : still", ") ? still : target"),
    "never closed": ("rules/carryover.js", "open && !reaches(", "open || !reaches("),
    "what was not on the card is forgotten": (
        "rules/carryover.js",
        "...asked.map(",
        "...[].map(",
    ),
    "the days do not matter": (
        "rules/carryover.js",
        "one.flown_on < other.flown_on ? -1 : Number(one.flown_on > other.flown_on)",
        "0",
    ),
    "checks carry too": (
        "rules/carryover.js",
        "(!isCheck && open.has(task))",
        "open.has(task)",
    ),
    "three marks are two": ("rules/watch.js", "MARKS = 3", "MARKS = 2"),
    "a shorter window": ("rules/watch.js", "OPPORTUNITIES = 5", "OPPORTUNITIES = 4"),
    "critical ones wait": ("rules/watch.js", "!isCritical && marked < MARKS", "marked < MARKS"),
    "closed by one word": (
        "rules/watch.js",
        "isProved && item.isDecided",
        "isProved || item.isDecided",
    ),
    "decisions are not read": ("rules/watch.js", "isDecided: true", "isDecided: false"),
    "a decision outlives a mark": (
        "rules/watch.js",
        "item.isDecided && !isMarked",
        "item.isDecided",
    ),
    "clean for ever": ("rules/watch.js", "isMarked ? 0 : item.clean + 1", "item.clean + 1"),
}


@pytest.mark.parametrize("mutant", MUTANTS)
def test_a_slip_in_a_script_is_noticed(browser: Browser, mutant: str) -> None:
    file, old, new = MUTANTS[mutant]
    with judging_page(browser, {file: (old, new)}) as spoilt:
        prepare(spoilt, [], [])
        assert next(disagreements(spoilt), None) is not None


def walks() -> Iterator[tuple[dict[str, Any], list[Any]]]:
    """Runs of taps drawn over every aircraft, and what the program makes of each tap."""
    for number in range(300):
        dice = Random(number)  # noqa: S311 - repeatable, not secret
        place = dice.randrange(len(settings_drawn()))
        setting = settings_drawn()[place]
        kind = dice.randrange(len(setting.course.aircraft))
        aircraft = setting.course.aircraft[kind]
        card, taps, told = Card(aircraft=aircraft.code), [], []
        items = list(aircraft.items)
        at = dice.randrange(len(items))
        for _ in range(dice.randint(1, 14)):
            at = (at + dice.choice([1, 1, 1, 1, 2, -1, 5])) % len(items)
            hows = ["done", "done", "done", "prompted", "skipped"]
            tap = f"{dice.choice(hows)}:{items[at].code}"
            wanted = dice.choice([tap] * 12 + ["undo", "clear", "rest"])
            part = dice.choice(aircraft.blocks).checklist
            card = stepped(card, aircraft, wanted, part)
            taps.append((wanted, part))
            steps = [{"item": one.item, "how": one.how} for one in card.steps]
            told.append({"steps": steps, "run": _run(card, setting)})
        yield {"place": place, "kind": kind, "taps": taps}, told


def _run(card: Card, setting: Any) -> dict[str, Any] | None:
    flow = read_gauges(card, setting).flow
    return flow and {
        "expected": flow.expected,
        "distance": flow.distance,
        "omitted": len(flow.omissions),
        "moved": len(flow.moved),
        "prompted": len(flow.prompts),
        "agreement": flow.agreement,
    }


def wrong_walk(page: Page) -> tuple[Any, Any] | None:
    """The first run that is walked in two ways."""
    questions, ours = zip(*walks(), strict=True)
    pairs = zip(ours, ask(page, "walkAll", questions), strict=True)
    return next(((mine, theirs) for mine, theirs in pairs if mine != theirs), None)


def test_a_flow_run_is_walked_and_told_alike(page: Page) -> None:
    assert wrong_walk(page) is None


FLOWS = {
    "the rest again": ("rules/run.js", "!touched.has(one.code)", "true"),
    "skipped counts": ("rules/run.js", 'step.how !== "skipped" && ', ""),
    "no swap over others": ("rules/order.js", "lastRow.set(wanted, i);", ""),
    "the first place wins": ("rules/order.js", "top >= place", "top > place"),
}


@pytest.mark.parametrize("mutant", FLOWS)
def test_a_slip_in_a_run_is_noticed(browser: Browser, mutant: str) -> None:
    file, old, new = FLOWS[mutant]
    with judging_page(browser, {file: (old, new)}) as spoilt:
        prepare(spoilt, [packed(one) for one in settings_drawn()], [])
        assert wrong_walk(spoilt) is not None

"""One chart, whatever it shows: the page, the table file and the explore page read the same."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from markupsafe import Markup

from gradebook.pictures.numbers import Numbers


@dataclass(frozen=True, slots=True)
class Chart:
    """A finding with what it rests on.

    `key` names it in addresses; `title` states the finding; `n` says in words how much stands
    behind it; `figure` makes the text of the larger figure when somebody asks for it.
    """

    key: str
    title: str
    n: str
    picture: Markup
    numbers: Numbers
    figure: Callable[[], Markup]
    why: str = ""


def chart_named(charts: Iterable[Chart], key: str) -> Chart | None:
    """The chart with this key; None when there is none."""
    return next((one for one in charts if one.key == key), None)

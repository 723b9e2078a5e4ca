"""Several small selects in one statement: a page asks the database few times.

Each select becomes a part of one UNION ALL. A row of the union has a slot for every column of
every part, filled by its own part alone; columns of one type share slots.
"""

from collections import namedtuple
from collections.abc import Callable, Sequence
from functools import lru_cache
from operator import itemgetter
from typing import Any

from sqlalchemy import Select, cast, literal, null, select, union_all
from sqlalchemy.orm import Session
from sqlalchemy.types import String, TypeEngine

Asked = Select[*tuple[Any, ...]]
"""A select of columns, whatever they are."""
Place = tuple[str, int]
"""A slot: the kind of its type, and the how-manieth of that kind."""
Slots = dict[Place, TypeEngine[Any]]


def together(session: Session, *queries: Asked) -> list[list[Any]]:
    """The rows of each select, by the names of its columns, in no order."""
    slots: Slots = {}
    pairs = [(query, _placed(query, slots)) for query in queries]
    united = union_all(
        *(_padded(at, query, places, slots) for at, (query, places) in enumerate(pairs))
    )
    makers = [_maker(query, places, list(slots)) for query, places in pairs]
    found: list[list[Any]] = [[] for _ in queries]
    for row in session.execute(united):
        found[row[0]].append(makers[row[0]](row))
    return found


def _placed(query: Asked, slots: Slots) -> list[Place]:
    """The slot of each column; slots not there yet are added."""
    taken: dict[str, int] = {}
    places = []
    for column in query.selected_columns:
        kind = "text" if isinstance(column.type, String) else type(column.type).__name__
        place = kind, taken.get(kind, 0)
        taken[kind] = place[1] + 1
        slots.setdefault(place, column.type)
        places.append(place)
    return places


def _padded(at: int, query: Asked, places: Sequence[Place], slots: Slots) -> Asked:
    """One part: its number, then every slot, empty where another part's column belongs."""
    own = dict(zip(places, query.subquery().columns, strict=True))
    filled = (
        own[place] if place in own else cast(null(), slots[place]).label(f"empty_{number}")
        for number, place in enumerate(slots)
    )
    return select(literal(at), *filled)


def _maker(
    query: Asked, places: Sequence[Place], order: Sequence[Place]
) -> Callable[[Sequence[Any]], Any]:
    """What makes a row of the union a row of its part."""
    shape = _shape(tuple(str(name) for name in query.selected_columns.keys()))  # noqa: SIM118
    numbers = [order.index(place) + 1 for place in places]
    if len(numbers) == 1:
        (only,) = numbers
        return lambda row: shape(row[only])
    pick = itemgetter(*numbers)
    return lambda row: shape(*pick(row))


@lru_cache
def _shape(names: tuple[str, ...]) -> Callable[..., Any]:
    return namedtuple("Row", names)

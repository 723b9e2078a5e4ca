"""Several small selects in one statement: a page asks the database few times.

Each select becomes a part of one UNION ALL. A row of the union has a slot for every column of
every part, filled by its own part alone; columns of one type share slots.

To put such a statement together costs twenty times what it costs to run it, so that is done
once: a select is written once, with named parameters, and given its values when it is asked.
"""

from collections import namedtuple
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from operator import itemgetter
from typing import Any, Self

from sqlalchemy import CompoundSelect, Select, cast, literal, null, select, union_all
from sqlalchemy.orm import Session
from sqlalchemy.types import String, TypeEngine

Query = Select[*tuple[Any, ...]]
"""A select of columns, whatever they are."""
Place = tuple[str, int]
"""A slot: the kind of its type, and the how-manieth of that kind."""
Slots = dict[Place, TypeEngine[Any]]


@dataclass(frozen=True, eq=False, slots=True)
class Asked:
    """A select of columns, to be written once, and the values of its named parameters."""

    query: Query
    values: Mapping[str, Any] = field(default_factory=dict)

    def of(self, **values: Any) -> Self:  # noqa: ANN401 - whatever a column can hold
        """The same select with these values."""
        return type(self)(self.query, values)

    def rows(self, session: Session) -> Sequence[Any]:
        """Its rows, when it is asked alone."""
        return session.execute(self.query, self.values).all()


def together(session: Session, *asked: Asked) -> list[list[Any]]:
    """The rows of each select, by the names of its columns, in no order.

    ValueError when two selects want different values of one name.
    """
    united, makers = _united(tuple(one.query for one in asked))
    found: list[list[Any]] = [[] for _ in asked]
    for row in session.execute(united, _values(asked)):
        found[row[0]].append(makers[row[0]](row))
    return found


def _values(asked: Sequence[Asked]) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for one in asked:
        for name, value in one.values.items():
            if values.setdefault(name, value) != value:
                raise ValueError(f"two values of {name} in one statement")
    return values


@lru_cache(maxsize=64)
def _united(
    queries: Sequence[Query],
) -> tuple[CompoundSelect[*tuple[Any, ...]], list[Callable[[Sequence[Any]], Any]]]:
    """The union of these very selects, and what makes a row of each of a row of it."""
    slots: Slots = {}
    pairs = [(query, _placed(query, slots)) for query in queries]
    united = union_all(
        *(_padded(at, query, places, slots) for at, (query, places) in enumerate(pairs))
    )
    return united, [_maker(query, places, list(slots)) for query, places in pairs]


def _placed(query: Query, slots: Slots) -> list[Place]:
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


def _padded(at: int, query: Query, places: Sequence[Place], slots: Slots) -> Query:
    """One part: its number, then every slot, empty where another part's column belongs."""
    own = dict(zip(places, query.subquery().columns, strict=True))
    filled = (
        own[place] if place in own else cast(null(), slots[place]).label(f"empty_{number}")
        for number, place in enumerate(slots)
    )
    return select(literal(at), *filled)


def _maker(
    query: Query, places: Sequence[Place], order: Sequence[Place]
) -> Callable[[Sequence[Any]], Any]:
    """What makes a row of the union a row of its part."""
    shape = _shape(tuple(str(name) for name in query.selected_columns.keys()))  # noqa: SIM118
    numbers = [order.index(place) + 1 for place in places]
    if len(numbers) == 1:
        (only,) = numbers
        return lambda row: shape(row[only])
    pick = itemgetter(*numbers)
    return lambda row: shape(*pick(row))


def _shape(names: tuple[str, ...]) -> Callable[..., Any]:
    return namedtuple("Row", names)

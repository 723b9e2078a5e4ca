"""What every test would work out anew to the same end, worked out once a process.

Nothing is left out and nothing is replaced: a hash of the same secret and salt is the same
hash, a statement compiled for one database of a kind is the same text for the next, and the
function that builds the addresses of a route is the same in every application. More than half
of the time of a test that opens a school went into these three.
"""

from functools import lru_cache
from typing import Any

import argon2
from sqlalchemy import Engine
from sqlalchemy.engine.default import DefaultDialect
from sqlalchemy.util import LRUCache
from werkzeug.routing import Rule

from gradebook.ledger import keys

STATEMENTS = 5000


def remember() -> None:
    """Remember the hashes that were asked for, the statements and routes that were compiled."""
    _remember_hashes()
    _remember_statements()
    _remember_routes()


def _remember_hashes() -> None:
    keys.hash_secret_raw = lru_cache(maxsize=None)(keys.hash_secret_raw)
    verify, known = argon2.PasswordHasher.verify, set[tuple[Any, Any]]()

    def verified(self: argon2.PasswordHasher, kept: str, typed: str) -> bool:
        if (kept, typed) not in known:
            verify(self, kept, typed)  # raises where it does not match
            known.add((kept, typed))
        return True

    argon2.PasswordHasher.verify = verified


def _remember_statements() -> None:
    """Engines whose dialects write the same statements share what was compiled for any."""

    def traits(self: DefaultDialect) -> tuple[object, ...]:
        version = getattr(self, "server_version_info", None)
        return type(self), self.dbapi, self.paramstyle, version

    def alike(self: DefaultDialect, other: object) -> bool:
        return isinstance(other, DefaultDialect) and traits(self) == traits(other)

    DefaultDialect.__eq__ = alike
    DefaultDialect.__hash__ = lambda self: hash(traits(self))
    shared, begin = LRUCache[Any, Any](STATEMENTS), Engine.__init__

    def begun(self: Engine, *given: Any, **named: Any) -> None:
        begin(self, *given, **named)
        self._compiled_cache = shared

    Engine.__init__ = begun


def _remember_routes() -> None:
    """A rule's own `compile` asks for two functions, which know nothing of its application."""
    build, known = Rule._compile_builder, dict[tuple[object, ...], Any]()

    def built(self: Rule, append_unknown: bool = True) -> Any:
        asked = (self.rule, *self._trace, repr(self.defaults), append_unknown)
        if asked not in known:
            known[asked] = build(self, append_unknown)
        return known[asked]

    Rule._compile_builder = built

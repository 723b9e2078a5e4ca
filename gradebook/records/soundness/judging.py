"""All findings about an installation, and what was looked at, in words."""

from datetime import UTC, datetime

from gradebook.records.soundness.databases import postgres, sqlite
from gradebook.records.soundness.facts import Facts, Finding, HouseKey, Postgres, Sqlite
from gradebook.records.soundness.folders import MB, backups, folder, key_in_force
from gradebook.records.soundness.service import clocks, needles, served
from syllabus.saying import joined, say, say_n


def findings(facts: Facts) -> list[Finding]:
    """What is not as it should be, the unsafe first."""
    storage = facts.storage
    found = [
        *(sqlite(storage, facts.folder) if isinstance(storage, Sqlite) else postgres(storage)),
        *folder(facts.folder),
        *backups(facts),
        *served(facts.serving),
        *clocks(facts.clocks),
        *key_in_force(facts.key),
        *needles(facts.needles),
    ]
    return sorted(found, key=lambda one: not one.unsafe)


def described(facts: Facts) -> list[tuple[str, str]]:
    """What was looked at and what it was, in words."""
    storage, place, serving = facts.storage, facts.folder, facts.serving
    return [
        (say("Database"), _described_storage(storage)),
        (say("File system"), place.filesystem or say("not known")),
        (
            say("Free space"),
            say("{free} of {size} MB", free=place.free // MB, size=place.size // MB),
        ),
        (say("Newest backup"), _stamp(place.backed_up)),
        (say("Key of the school"), _described_key(facts.key)),
        (say("Names"), ", ".join(serving.hosts)),
        (say("Served by"), "https" if serving.https else "http"),
        (say("Clock"), _stamp(facts.clocks.now)),
        (say("Newest act on file"), _stamp(facts.clocks.newest)),
    ]


def _described_storage(met: Sqlite | Postgres) -> str:
    if isinstance(met, Sqlite):
        level = ("off", "normal", "full", "extra")[met.synchronous]
        return say(
            "SQLite {version}, journal {journal}, synchronous {level}",
            version=met.version,
            journal=met.journal,
            level=level,
        )
    settings = ", ".join(f"{name} {value}" for name, value in met.settings.items())
    return f"PostgreSQL {met.version}, {settings}"


def _described_key(key: HouseKey) -> str:
    if not key.fingerprint:
        return say("none")
    parts = [say("{key}, from entry {since} on", key=key.fingerprint, since=key.since)]
    if key.earlier:
        parts.append(say_n("{n} key before it", "{n} keys before it", key.earlier))
    if key.broken:
        parts.append(say_n("{n} of them compromised", "{n} of them compromised", key.broken))
    return joined("; ", parts)


def _stamp(moment: datetime | None) -> str:
    return say("none") if moment is None else f"{moment.astimezone(UTC):%Y-%m-%d %H:%M} UTC"

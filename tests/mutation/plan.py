"""Which modules are spoilt, and the tests that have to notice, the likeliest first."""

LEDGER = "gradebook.ledger"
TESTS = "tests/ledger/test_"
RECORDS = "tests/records/"
REKEYED = ("told", "refused", "rekeying", "kept_outside")
REKEYING = tuple(f"{RECORDS}rekeying/test_{one}.py" for one in REKEYED)
BUNDLES = (f"{TESTS}bundle.py", f"{TESTS}bundle_forged.py", f"{TESTS}phones.py")

PURE = {
    "gradebook.records.permissions": (
        "tests/test_developers.py",
        "tests/records/test_permissions.py",
    ),
    "gradebook.records.lifecycle": ("tests/records/test_lifecycle.py",),
    "gradebook.records.independence": ("tests/records/test_independence.py",),
    f"{LEDGER}.canonical": (f"{TESTS}canonical.py", f"{TESTS}statements.py"),
    f"{LEDGER}.tree": (f"{TESTS}tree.py",),
    f"{LEDGER}.keys": (f"{TESTS}keys.py",),
    f"{LEDGER}.notes": (f"{TESTS}notes.py",),
    f"{LEDGER}.statements": (f"{TESTS}statements.py", *BUNDLES),
    f"{LEDGER}.fields": (f"{TESTS}bundle.py", f"{TESTS}statements.py", *BUNDLES[1:]),
    f"{LEDGER}.bundle_file": BUNDLES,
    f"{LEDGER}.bundle_checks": BUNDLES,
    f"{LEDGER}.bundle": BUNDLES,
    f"{LEDGER}.chain": ("tests/ledger/test_phones.py", "tests/ledger/test_chain.py"),
}
STORED = {
    "gradebook.cli.keys": REKEYING,
    "gradebook.cli.proving": (
        "tests/copies/test_verify_file.py",
        f"{RECORDS}keeping/test_headway_line.py",
        f"{RECORDS}test_proof.py",
        "tests/walks/test_checkpoint_mail.py",
        *REKEYING,
        f"{RECORDS}rebuilding/test_rebuilt.py",
    ),
    "gradebook.records.commands.rekeying": REKEYING,
    "gradebook.records.store.schoolkeys": (f"{RECORDS}test_proof.py", *REKEYING),
    "gradebook.records.store.signatures": ("tests/walks/test_altered.py",),
    "gradebook.records.checkpoints": (
        f"{RECORDS}test_checkpoints.py",
        "tests/walks/test_checkpoint_mail.py",
        *REKEYING,
        "tests/faults/test_kept_on_disk.py",
        "tests/walks/test_ledger.py",
    ),
    "gradebook.records.sealing": (
        f"{RECORDS}test_sealing.py",
        "tests/accounts/test_second_factor.py",
    ),
    "gradebook.records.ahead": (f"{RECORDS}test_ahead.py",),
}
"""What touches storage: its tests open a school, on SQLite alone."""
MODULES = PURE | STORED
SLOW = ("every_changed_byte", "canonical_when_canonical_writes", "ten_thousand", "postgres")
OPTIONS = (
    "-q", "-x", "-p", "no:cacheprovider",
    "-W", "ignore::pytest.PytestAssertRewriteWarning",  # of what was read before
    "-k", " and ".join(f"not {one}" for one in SLOW),
)  # fmt: skip


def options(name: str) -> tuple[str, ...]:
    """What pytest is told for a module: a pure one has nothing that is opened for its tests."""
    return OPTIONS if name in STORED else (*OPTIONS, "--noconftest")


PRELOAD = (
    "numpy", "hypothesis", "rfc8785", "cryptography.hazmat.primitives.asymmetric.ed25519",
    "argon2", "sqlalchemy.dialects.sqlite", "pytest", "alembic.command", "flask_wtf", "babel",
    "pandas", "plotly.graph_objects", "playwright.sync_api", "webauthn", "zxcvbn", "psycopg",
)  # fmt: skip
"""What is read once, for all mutants: nothing of our own."""

"""Which modules are spoilt, and the tests that have to notice, the likeliest first."""

LEDGER = "gradebook.ledger"
TESTS = "tests/ledger/test_"
BUNDLES = (f"{TESTS}bundle.py", f"{TESTS}bundle_forged.py", f"{TESTS}phones.py")

MODULES = {
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
SLOW = ("every_changed_byte", "canonical_when_canonical_writes", "ten_thousand")
OPTIONS = (
    "-q", "-x", "-p", "no:cacheprovider", "--noconftest",
    "-W", "ignore::pytest.PytestAssertRewriteWarning",  # of what was read before
    "-k", " and ".join(f"not {one}" for one in SLOW),
)  # fmt: skip
PRELOAD = (
    "numpy", "hypothesis", "rfc8785", "cryptography.hazmat.primitives.asymmetric.ed25519",
    "argon2", "sqlalchemy.orm", "pytest",
)  # fmt: skip
"""What is read once, for all mutants: nothing of our own."""

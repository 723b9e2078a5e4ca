"""The printed accounts of the demo, the only place where Windtee has any."""

SECRET = "sandrey-bay-demo"  # noqa: S105 - printed on purpose: the demo holds invented data only

DOORS = (
    ("instructor", "tobias@kelpmoor.example"),
    ("student", "nils@kelpmoor.example"),
    ("chief instructor", "maren@kelpmoor.example"),
    ("check instructor", "anselm@kelpmoor.example"),
    ("administrator", "rhea@kelpmoor.example"),
    ("auditor", "owen@kelpmoor.example"),
)
"""One account of each role."""

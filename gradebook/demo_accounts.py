"""The printed accounts of the demo, the only place where Windtee has any."""

from syllabus.saying import say

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

PURPOSES = {
    "instructor": say("Grades a lesson and signs it."),
    "student": say("Sees what is weak, and why."),
    "chief instructor": say("Decides who is ready, and watches the school."),
    "check instructor": say("Checks the students of other instructors."),
    "administrator": say("Adds people and hands out links."),
    "auditor": say("Reads every record and proves it; changes nothing."),
}
"""What each role came for, for whoever opens the demo without knowing the trade's words."""

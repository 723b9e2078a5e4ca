"""A small course as files: two stages, four tasks, one aircraft with limits. Invented."""
# ruff: noqa: E501 - lines of the course files are as long as their format asks

FILES = {
    "course.toml": """
code = "small"
title = "Small course"
category = "RH"
scale = "LCG-MAN"
summary = "For tests."
prerequisites = []
consecutive = 2
flow = ["preflight", "run-up", "hover", "shutdown"]
stages = ["stages/1.toml", "stages/2.toml"]
""",
    "tasks/all.toml": """
[[task]]
code = "preflight"
title = "Preflight inspection"
phase = "ground"
words = "Inspects by the checklist and says why."
source = "school"
references = ["Book, chapter 1"]
elements = [
  { code = "looks", words = "Looks" },
]
criteria = []
errors = [
  { code = "PF-01", words = "Works from memory", severity = "procedural" },
  { code = "PF-04", words = "Cover left on", severity = "safety-critical" },
]

[[task]]
code = "run-up"
title = "Run-up"
phase = "ground"
words = "Checks the engine inside its limits."
source = "school"
references = []
elements = []
criteria = []
errors = [
  { code = "RU-04", words = "Selector left on one side", severity = "safety-critical" },
  { code = "RU-05", words = "Drop out of limits accepted", severity = "safety-critical" },
  { code = "RU-03", words = "Rpm drifts", severity = "technique" },
]

[[task]]
code = "hover"
title = "Hover"
phase = "flight"
words = "Holds place and height."
source = "school"
references = []
elements = []
criteria = [
  { code = "height", quantity = "height deviation", at_least = -5, at_most = 5, unit = "ft", source = "school" },
]
errors = [
  { code = "HV-01", words = "Drifts back", severity = "technique" },
]

[[task]]
code = "shutdown"
title = "Shutdown"
phase = "ground"
words = "Cools down and secures."
source = "school"
references = []
elements = []
criteria = []
errors = [
  { code = "SD-01", words = "Cool-down cut short", severity = "procedural" },
]
""",
    "stages/1.toml": """
code = "stage-1"
title = "First stage"
objective = "Begin."
completion = "Begun."
hours = [
  { code = "dual", at_least = 2.0, source = "school" },
]
events = [
  { code = "medical", words = "Medical certificate seen", kind = "medical", source = "school" },
]
tests = []

[[lesson]]
code = "s-01"
title = "First lesson"
kind = "dual"
objective = "See it done."
completion = "Has seen it."
ground_minutes = 30
flight_minutes = 60
tasks = [
  { task = "preflight", target = "practice" },
  { task = "run-up", target = "practice" },
  { task = "hover", target = "explain" },
]
read = []

[[lesson]]
code = "s-02"
title = "Second lesson"
kind = "dual"
objective = "Do it."
completion = "Does it."
ground_minutes = 30
flight_minutes = 60
tasks = [
  { task = "preflight" },
  { task = "run-up" },
  { task = "hover", target = "practice" },
  { task = "shutdown", target = "practice" },
]
read = []

[[lesson]]
code = "s-check"
title = "First stage check"
kind = "stage-check"
objective = "Show it."
completion = "Shown."
ground_minutes = 30
flight_minutes = 60
tasks = [
  { task = "preflight" },
  { task = "run-up" },
]
read = []
""",
    "stages/2.toml": """
code = "stage-2"
title = "Second stage"
objective = "Go on."
completion = "Gone on."
hours = []
events = []
tests = []

[[lesson]]
code = "s-03"
title = "Third lesson"
kind = "solo"
objective = "Alone."
completion = "Alone."
ground_minutes = 15
flight_minutes = 45
tasks = [
  { task = "hover" },
]
read = []

[[lesson]]
code = "s-last"
title = "Last check"
kind = "stage-check"
objective = "Show it all."
completion = "Shown."
ground_minutes = 30
flight_minutes = 60
tasks = [
  { task = "hover" },
]
read = []
""",
    "aircraft/invented.toml": """
code = "invented"
name = "Invented type"
category = "RH"
notice = "Invented limits."
readings = [
  { code = "left-drop", words = "Left magneto drop", unit = "rpm", task = "run-up" },
  { code = "right-drop", words = "Right magneto drop", unit = "rpm", task = "run-up" },
]
arithmetic = [
  { code = "magneto-difference", words = "Difference between magnetos", how = "spread", of = ["left-drop", "right-drop"], unit = "rpm", task = "run-up" },
]
limits = [
  { code = "left-limit", of = "left-drop", above = 0, at_most = 175, words = "Left magneto drop", breach = "RU-05", source = "common practice" },
  { code = "right-limit", of = "right-drop", above = 0, at_most = 175, words = "Right magneto drop", breach = "RU-05", source = "common practice" },
  { code = "difference-limit", of = "magneto-difference", at_most = 50, words = "Magneto difference", breach = "RU-05", source = "common practice" },
]

[[block]]
code = "walk"
checklist = "Preflight"
title = "Walk round"
any_order = true
items = [
  { code = "covers", words = "Covers", expect = "OFF", task = "preflight", omitted = "PF-04" },
  { code = "doors", words = "Doors", expect = "LATCHED", task = "preflight" },
]

[[block]]
code = "magnetos"
checklist = "Run-up"
title = "Magnetos"
any_order = false
items = [
  { code = "select-one", words = "Selector", expect = "ONE SIDE, then the other", task = "run-up", reading = "left-drop" },
  { code = "select-both", words = "Selector", expect = "BOTH", task = "run-up", omitted = "RU-04" },
]
""",
}


def two_types() -> dict[str, str]:
    """The same course with a second aircraft type, which shares one reading with the first."""
    kind = """
code = "second"
name = "Second type"
category = "RH"
notice = "Invented limits."
readings = [
  { code = "left-drop", words = "Left magneto drop", unit = "rpm", task = "run-up" },
  { code = "oil", words = "Oil temperature", unit = "degC", task = "run-up" },
  { code = "free", words = "Controls free", unit = "yes-no", task = "run-up" },
]
arithmetic = []
limits = [
  { code = "left-limit", of = "left-drop", above = 0, at_most = 100, words = "Left magneto drop", breach = "RU-05", source = "common practice" },
  { code = "oil-limit", of = "oil", at_least = 40, at_most = 95.5, words = "Oil temperature", source = "common practice" },
  { code = "free-limit", of = "free", expect = "yes", words = "Controls free", source = "common practice" },
]

[[block]]
code = "warm"
checklist = "Warm-up"
title = "Warm-up"
any_order = false
items = [
  { code = "oil-warm", words = "Oil", expect = "WARM", task = "run-up", reading = "oil" },
]
"""
    return {**FILES, "aircraft/second.toml": kind}


def twenty_tasks() -> dict[str, str]:
    """The same course with one lesson of twenty tasks in flow order, before all others."""
    codes = [f"task-{number:02d}" for number in range(1, 17)]
    tasks = "".join(
        f"""
[[task]]
code = "{code}"
title = "Task {code[-2:]}"
phase = "flight"
words = "Done well."
source = "school"
references = []
elements = []
criteria = []
errors = [
  {{ code = "TK-{code[-2:]}", words = "Done badly", severity = "procedural" }},
]
"""
        for code in codes
    )
    named = ", ".join(f'"{code}"' for code in codes)
    asked = "".join(f'  {{ task = "{code}" }},\n' for code in codes)
    lesson = f"""
[[lesson]]
code = "s-00"
title = "Long lesson"
kind = "dual"
objective = "Everything."
completion = "All of it."
ground_minutes = 30
flight_minutes = 60
tasks = [
  {{ task = "preflight" }},
  {{ task = "run-up" }},
  {{ task = "hover" }},
{asked}  {{ task = "shutdown" }},
]
read = []

[[lesson]]
code = "s-01"
"""
    course = FILES["course.toml"].replace('"hover", ', f'"hover", {named}, ')
    stage = FILES["stages/1.toml"].replace('\n[[lesson]]\ncode = "s-01"\n', lesson, 1)
    return {
        **FILES,
        "course.toml": course,
        "tasks/more.toml": tasks,
        "stages/1.toml": stage,
    }

"""Slips somebody could make in the scripts: the file, what stands there, what it becomes."""

MUTANTS = {
    "spaces as browsers trim them": (
        "rules/text.js",
        'text.replace(ENDS, "")',
        "text.trim()",
    ),
    "length in halves of characters": (
        "rules/text.js",
        "Array.from(text).length",
        "text.length",
    ),
    "minutes rounded down": ("rules/times.js", "Math.round((", "Math.floor(("),
    "hours with any two digits of minutes": (
        "rules/times.js",
        ":([0-5][0-9])",
        ":([0-9][0-9])",
    ),
    "binary fractions": (
        "rules/decimals.js",
        "  const digits =",
        "  if (places) return `${Number(units) / 10 ** places}`;\n  const digits =",
    ),
    "a limit that excludes its end": (
        "rules/readings.js",
        "against(at_most) > 0",
        "against(at_most) >= 0",
    ),
    "a thousand read as a decimal": (
        "rules/readings.js",
        "part.length === 3",
        "part.length > 9",
    ),
    "limits on what only one of two was read for": (
        "rules/limits.js",
        "read.every(",
        "read.some(",
    ),
    "any day of a month": (
        "rules/days.js",
        "made.getUTCMonth() + 1 === Number(month)",
        "made",
    ),
    "the school's future": ("rules/check.js", "day > setting.today", "day >= setting.today"),
    "codes that every object has": (
        "rules/setting.js",
        "Object.hasOwn(scale.not_counted, code)",
        "code in scale.not_counted",
    ),
    "a third itself counts as more": (
        "rules/outcome.js",
        "3 * below > counted",
        "3 * below >= counted",
    ),
    "free order only forwards": (
        "rules/flow.js",
        "distance(back, done) <",
        "0 > 1 + distance(back, done) +",
    ),
    "putting in before leaving out": (
        "rules/alignment.js",
        'if (i && cost === costs[i - 1][j] + 1) return "left out";',
        "",
    ),
    "marks twice": ("statement.js", "[...new Set(entry.errors)]", "entry.errors"),
    "errors as they were tapped": (
        "statement.js",
        "parts.sort((one, other) => byBytes(canonical(one), canonical(other)))",
        "parts",
    ),
    "text as it was typed": ("canonical.js", 'value.normalize("NFC")', "value"),
    "a remark with its spaces": ("statement.js", "strip(entry.remark)", "entry.remark"),
}

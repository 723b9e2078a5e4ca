"""What the audit trail keeps, in words."""

import ast
from collections.abc import Iterator

from gradebook import words
from gradebook.records.noted import FLAGS, LABELS, SILENT, noted
from gradebook.words import Language
from tests.tree import python_files


def kept() -> Iterator[str]:
    """The name of every fact that the program puts into the trail."""
    for path in python_files("gradebook/records", "gradebook/views", "gradebook/cli"):
        tree = ast.parse(path.read_text())
        given = [
            one
            for node in ast.walk(tree)
            if isinstance(node, ast.Call) and _name(node.func) in ("note", "note_seldom")
            for one in node.keywords
        ]
        yield from (one.arg for one in given if one.arg)
        dicts = {_name(one.value) for one in given if one.arg is None} | {"facts"}
        for node in ast.walk(tree):
            if isinstance(node, ast.Assign | ast.AnnAssign) and isinstance(
                node.value, ast.Dict
            ):
                target = node.targets[0] if isinstance(node, ast.Assign) else node.target
                if _name(target) in dicts:
                    yield from (ast.literal_eval(one) for one in node.value.keys if one)


def _name(node: ast.expr) -> str:
    return str(getattr(node, "attr", getattr(node, "id", "")))


def said(code: str, **facts: object) -> list[object]:
    """Facts as somebody reads them in a language."""
    with words.speaking(Language(code)):
        return [words.spoken(one) for one in noted(facts, {"p1": "Eve"}, "UTC")]


def test_every_fact_that_is_kept_has_words() -> None:
    names = set(kept())
    assert len(names) > 60
    assert names - FLAGS.keys() - LABELS.keys() - SILENT == set()


def test_what_happened_is_said_without_yes() -> None:
    assert said("en", looked=True) == ["the first look of that day"]
    assert said("de", looked=True) == ["erster Blick an diesem Tag"]
    assert said("de", ready=False, stage="s-1", checker="p1", reason="") == [
        "Voraussetzungen nicht erfüllt",
        "Abschnitt: s-1",
        "Prüffluglehrer: Eve",
    ]


def test_codes_are_read_as_words_and_what_was_typed_as_it_was() -> None:
    assert said("de", granted="student", reason="student") == [
        "vergeben: Flugschüler",
        "Grund: student",
    ]
    assert said("de", job="prove", term="endless") == [
        "lange Arbeit: die Nachweise prüfen",
        "Lehrberechtigung gilt: ohne Ende",
    ]


def test_moments_and_digests_are_short() -> None:
    assert said("de", received_at="2026-05-18T09:05:00Z", sha256="ab" * 32) == [
        "empfangen: 18. Mai 2026, 09:05 UTC",
        f"Prüfsumme der Datei: {'ab' * 6}…",
    ]


def test_what_nobody_named_is_told_all_the_same() -> None:
    assert said("en", some_thing=True, other=["a", 2]) == ["some thing: yes", "other: a, 2"]

"""Line numbers for the parts of a TOML text, which the standard library's reader leaves out.

A path is what leads to a value in the parsed document: keys of tables and places in arrays,
such as `("task", 0, "errors", 2, "severity")`.
"""

import re
from collections.abc import Iterator

Path = tuple[str | int, ...]

_TOKEN = re.compile(
    r'"""(?:\\.|[^\\])*?"""(?:"{0,2}(?!"))'  # multi-line string, quotes before its end
    r"|'''.*?'''(?:'{0,2}(?!'))"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|'[^'\n]*'"
    r"|#[^\n]*"
    r"|\n"
    r"|[\[\]{},=]"
    r"|[^\s\"'#\[\]{},=]+",
    re.DOTALL,
)
_KEY_PART = re.compile(r"\"((?:\\.|[^\"\\])*)\"|'([^']*)'|([^.\s\"']+)")


class Lines:
    """Lines of a text by path. Made for text that parses; any other gives sparse answers."""

    def __init__(self, text: str) -> None:
        self._lines: dict[Path, int] = {}
        self._tokens = list(_tokens(text))
        self._at = 0
        self._table: Path = ()
        self._counts: dict[Path, int] = {}
        while self._at < len(self._tokens):
            self._statement()

    def of(self, path: Path) -> int:
        """Line of the path, or of the nearest part around it that has one; 1 at worst."""
        while path:
            if path in self._lines:
                return self._lines[path]
            path = path[:-1]
        return 1

    def _peek(self) -> str:
        return self._tokens[self._at][0] if self._at < len(self._tokens) else ""

    def _take(self) -> tuple[str, int]:
        token = self._tokens[self._at]
        self._at += 1
        return token

    def _statement(self) -> None:
        if self._peek() == "\n":
            self._at += 1
        elif self._peek() == "[":
            self._header()
        else:
            self._pair(self._table)

    def _header(self) -> None:
        words, line = [], self._tokens[self._at][1]
        while self._at < len(self._tokens) and self._peek() != "\n":
            words.append(self._take()[0])
        keys = _key_parts("".join(words).strip("[]"))
        path = self._entered(keys[:-1])
        for last in keys[-1:]:
            path = (*path, last)
            if words[:2] == ["[", "["]:
                place = self._counts.get(path, -1) + 1
                self._counts[path] = place
                self._lines.setdefault(path, line)
                path = (*path, place)
            self._lines.setdefault(path, line)
        self._table = path

    def _entered(self, keys: list[str]) -> Path:
        """The path of a table, inside the newest element wherever it passes an array."""
        path: Path = ()
        for key in keys:
            path = (*path, key)
            if path in self._counts:
                path = (*path, self._counts[path])
        return path

    def _pair(self, inside: Path) -> None:
        """A key, its equals sign and its value."""
        words, line = [], self._tokens[self._at][1]
        while self._at < len(self._tokens) and self._peek() not in ("=", "\n", "}", ","):
            words.append(self._take()[0])
        if self._peek() != "=":
            self._at += 1
            return
        self._at += 1
        path = inside
        for key in _key_parts("".join(words)):
            path = (*path, key)
            self._lines.setdefault(path, line)
        self._value(path)

    def _value(self, path: Path) -> None:
        if self._at >= len(self._tokens):
            return
        opening = self._take()[0]
        if opening == "[":
            self._array(path)
        elif opening == "{":
            self._inline_table(path)

    def _array(self, path: Path) -> None:
        place = 0
        while self._at < len(self._tokens) and self._peek() != "]":
            if self._peek() in ("\n", ","):
                self._at += 1
                continue
            self._lines.setdefault((*path, place), self._tokens[self._at][1])
            self._value((*path, place))
            place += 1
        self._at += 1

    def _inline_table(self, path: Path) -> None:
        while self._at < len(self._tokens) and self._peek() != "}":
            if self._peek() in ("\n", ","):
                self._at += 1
            else:
                self._pair(path)
        self._at += 1


def _tokens(text: str) -> Iterator[tuple[str, int]]:
    """Tokens that matter with their lines; comments and blanks are left out."""
    line = 1
    for found in _TOKEN.finditer(text):
        token = found.group()
        if not token.startswith("#"):
            yield token, line
        line += token.count("\n")


def _key_parts(text: str) -> list[str]:
    """The parts of a key such as `a."b.c".d`, quotes taken off."""
    return [next(filter(None, found.groups()), "") for found in _KEY_PART.finditer(text)]

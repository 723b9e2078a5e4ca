"""Ways to spoil the fields of a good record."""

import base64
import json
import string
from collections.abc import Callable
from typing import Any

from gradebook.ledger import keys, tree
from gradebook.ledger.canonical import canonical, sha256_hex
from gradebook.ledger.notes import Checkpoint, sign_note, verifier_key
from syllabus.revision import content_hash
from tests.ledger.small_ledger import (
    ORIGIN,
    good_ledger,
    key_of,
    public,
    seed,
)

Fields = dict[str, Any]


def put(*path: str | int, to: Any) -> Callable[[Fields], None]:
    """Another value at this place."""

    def spoil(fields: Fields) -> None:
        at: Any = fields
        for step in path[:-1]:
            at = at[step]
        at[path[-1]] = to

    return spoil


def drop(*path: str | int) -> Callable[[Fields], None]:
    """Nothing at this place."""

    def spoil(fields: Fields) -> None:
        at: Any = fields
        for step in path[:-1]:
            at = at[step]
        del at[path[-1]]

    return spoil


def swap(name: str, one: int, other: int, inner: str | None = None) -> Callable[[Fields], None]:
    """Two items of a list change places, or one field of them does."""

    def spoil(fields: Fields) -> None:
        items = fields[name]
        if inner is None:
            items[one], items[other] = items[other], items[one]
        else:
            held = items[one][inner]
            items[one][inner], items[other][inner] = items[other][inner], held

    return spoil


def reword(at: int, what: str, old: str, new: str) -> Callable[[Fields], None]:
    """Other words in the text of an entry or of its statement."""

    def spoil(fields: Fields) -> None:
        text = fields["entries"][at][what]
        assert old in text
        fields["entries"][at][what] = text.replace(old, new)

    return spoil


def swap_signatures(fields: Fields) -> None:
    one, other = (json.loads(fields["entries"][at]["entry"]) for at in (5, 7))
    one["sig"], other["sig"] = other["sig"], one["sig"]
    for at, entry in ((5, one), (7, other)):
        fields["entries"][at]["entry"] = canonical(entry).decode()


def rewrite_with_its_hash(fields: Fields) -> None:
    item = fields["entries"][5]
    item["statement"] = item["statement"].replace("crosswind", "calm")
    entry = json.loads(item["entry"])
    entry["stmt_sha256"] = sha256_hex(item["statement"].encode())
    item["entry"] = canonical(entry).decode()


def resign_with_own_key(fields: Fields) -> None:
    fields["vkey"] = verifier_key(ORIGIN, public("dov"))
    fields["checkpoint"] = good_ledger().checkpoint(by="dov")


def older_checkpoint(fields: Fields) -> None:
    fields["checkpoint"] = good_ledger().checkpoint(size=10)


def other_tree(size: int) -> Callable[[Fields], None]:
    def spoil(fields: Fields) -> None:
        made = Checkpoint(ORIGIN, size, tree.root([b"another", b"ledger"]))
        fields["checkpoint"] = sign_note(made.text(), ORIGIN, seed("school"))

    return spoil


def of_another_origin(fields: Fields) -> None:
    text = fields["checkpoint"].rpartition("\n\n")[0] + "\n"
    text = text.replace(ORIGIN, "other.example")
    fields["checkpoint"] = sign_note(text, ORIGIN, seed("school"))


def four_lines(fields: Fields) -> None:
    text = fields["checkpoint"].rpartition("\n\n")[0] + "\nmore\n"
    fields["checkpoint"] = sign_note(text, ORIGIN, seed("school"))


def root_changed(fields: Fields) -> None:
    """The checkpoint's third line begins otherwise."""
    root = fields["checkpoint"].split("\n")[2]
    other = ("B" if root.startswith("A") else "A") + root[1:]
    fields["checkpoint"] = fields["checkpoint"].replace(root, other)


def size_changed(fields: Fields) -> None:
    fields["checkpoint"] = fields["checkpoint"].replace("\n19\n", "\n20\n")


def tab_in_checkpoint(fields: Fields) -> None:
    """Signed all the same, though no note holds one."""
    text, _, line = fields["checkpoint"].rpartition("\n\n")
    text = text.replace(ORIGIN, f"{ORIGIN}\t") + "\n"
    key_hash = base64.b64decode(line.split(" ")[2])[:4]
    data = key_hash + keys.sign(seed("school"), text.encode())
    signature = base64.b64encode(data).decode()
    fields["checkpoint"] = f"{text}\n\u2014 {ORIGIN} {signature}\n"


def unused_bits(fields: Fields) -> None:
    """The signature of the checkpoint in another way to write the same base64."""
    note = fields["checkpoint"]
    letters = string.ascii_uppercase + string.ascii_lowercase + string.digits + "+/"
    last = letters[letters.index(note[-3]) + 1]
    fields["checkpoint"] = note[:-3] + last + note[-2:]


def key_of_another_kind(fields: Fields) -> None:
    """A key line that is right in itself, but of a kind of key not known."""
    data = b"\2" + public("school")
    key_hash = sha256_hex(ORIGIN.encode() + b"\n" + data)[:8]
    fields["vkey"] = f"{ORIGIN}+{key_hash}+{base64.b64encode(data).decode()}"


def other_key_hash(fields: Fields) -> None:
    name, _, key = fields["vkey"].split("+", 2)
    fields["vkey"] = f"{name}+00000000+{key}"


def nothing_in_it(fields: Fields) -> None:
    fields.update(entries=[], keys=[], current=[])


def tail_beyond_checkpoint(fields: Fields) -> None:
    """The first entries are proved in an older tree, the later ones were put behind."""
    fields["checkpoint"] = good_ledger().checkpoint(size=10)
    for item in fields["entries"][:9]:
        proof = tree.inclusion(item["seq"] - 1, 10, good_ledger().node_at)
        item["proof"] = [one.hex() for one in proof]


def second_signature(fields: Fields) -> None:
    line = sign_note("x\n", "witness.example", seed("dov")).rpartition("\n\n")[2]
    fields["checkpoint"] += line


def invented_for_erased(fields: Fields) -> None:
    fields["entries"][11]["statement"] = fields["entries"][7]["statement"]


def revision_renamed(fields: Fields) -> None:
    files = {"other.toml": ""}
    fields["revisions"][0] = {"id": content_hash(files), "files": files}


def key_added(fields: Fields) -> None:
    fields["keys"].append(key_of("dov") | {"kid": "ab" * 16})


def double(*path: str | int) -> Callable[[Fields], None]:
    """The same item of a list once more."""

    def spoil(fields: Fields) -> None:
        at: Any = fields
        for step in path[:-1]:
            at = at[step]
        at.insert(path[-1], at[path[-1]])

    return spoil


def show_superseded(fields: Fields) -> None:
    fields["current"][0] = json.loads(fields["entries"][5]["statement"])["id"]


def next_entry_too(fields: Fields) -> None:
    fields["entries"] += good_ledger().items([19], set())


def someone_elses_entry_too(fields: Fields) -> None:
    fields["entries"][5:5] = good_ledger().items([6], set())

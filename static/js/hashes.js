// Hashes, signatures and keys as the ledger writes them, checked with what the browser brings.

import { bytesOf, MalformedError } from "./canonical.js";

export const toHex = (bytes) =>
  Array.from(bytes, (one) => one.toString(16).padStart(2, "0")).join("");
export const fromHex = (hex) =>
  Uint8Array.from(hex.match(/../g) ?? [], (pair) => parseInt(pair, 16));

/** SHA-256 (hex) of texts and bytes, one after another. */
export async function hash(...parts) {
  const ofPart = (part) => [...(typeof part === "string" ? bytesOf(part) : part)];
  const bytes = Uint8Array.from(parts.flatMap(ofPart));
  return toHex(new Uint8Array(await crypto.subtle.digest("SHA-256", bytes)));
}

/** The bytes of a text that is base64 in its one canonical form. */
export function fromBase64(text) {
  let binary = null;
  try {
    binary = atob(text);
  } catch {
    // told below
  }
  if (binary === null || btoa(binary) !== text)
    throw new MalformedError("it holds what is not base64");
  return Uint8Array.from(binary, (one) => one.charCodeAt(0));
}

const P = 2n ** 255n - 19n;
const ORDER = 2n ** 252n + 27742317777372353535851937790883648493n;
const EIGHTH = 0x7a03ac9277fdc74ec6cc392cfa53202a0f67100d760b3cba4fd84d3d706a17c7n;
const SMALL = [0n, 1n, P - 1n, EIGHTH, P - EIGHTH];
const number = (bytes) => BigInt(`0x${toHex(Array.from(bytes).reverse())}`);

/** Whether a public key may not be taken: of small order, or a second way to write another. */
export function isWeak(key) {
  const y = key.length === 32 ? number(key) & (2n ** 255n - 1n) : P;
  return y >= P || SMALL.includes(y);
}

/** Whether the Ed25519 signature of a text or bytes is that of a public key (all bytes). */
export async function isSigned(publicKey, text, signature) {
  if (isWeak(publicKey) || signature.length !== 64 || number(signature.slice(32)) >= ORDER) return false;
  try {
    const key = await crypto.subtle.importKey("raw", publicKey, "Ed25519", false, ["verify"]);
    return await crypto.subtle.verify("Ed25519", key, signature, typeof text === "string" ? bytesOf(text) : text);
  } catch (error) {
    if (error.name === "DataError") return false; // the key is no point of the curve
    throw error;
  }
}

/** The digits people compare of a key with this name: of its 32 bytes. */
export const digitsOf = async (name, key) => (await hash(`${name}\n`, [1], key)).slice(0, 32);

/** A school's key as one line: its name, its id in notes, its digits and its bytes. */
export async function readKeyLine(vkey) {
  const shape = /^([!-*,-~]+)\+([0-9a-f]{8})\+([A-Za-z0-9+/]{44})$/;
  const [, name, id, data] = shape.exec(vkey) ?? [];
  const key = name ? fromBase64(data) : [];
  const digest = await hash(`${name}\n`, key);
  if (key[0] !== 1 || !digest.startsWith(id) || isWeak(key.slice(1)))
    throw new MalformedError("the school's key cannot be read");
  return { name, id, digits: digest.slice(0, 32), public: key.slice(1) };
}

// What protects the words and the signing key on this phone: the person's own secret.
// A random data key seals cards, drafts and letters; an Ed25519 key signs. Both lie here wrapped
// by a key made of the secret. The data key is lent for a while after the secret was typed; the
// signing key is opened for one signature and let go.

import * as db from "./db.js";

export const ROUNDS = 600000;
export const HOURS = 12;
export const IDLE_MINUTES = 60;
const MINUTE = 60000;
const DOMAIN = "training-ledger/statement/v1\0";

/** The secret does not open this phone. */
export class WrongSecretError extends Error {}

/** Nothing can be read or sealed before the secret is typed. */
export class LockedError extends Error {}

const bytesOf = (text) => new TextEncoder().encode(text);
export const toHex = (bytes) =>
  Array.from(new Uint8Array(bytes), (one) => one.toString(16).padStart(2, "0")).join("");
const random = (length) => crypto.getRandomValues(new Uint8Array(length));
const bound = (iv, label) => ({ name: "AES-GCM", iv, additionalData: bytesOf(label) });

/** Whether the browser lends its cryptography here: it does on https and on this machine. */
export const able = () => Boolean(globalThis.isSecureContext && crypto.subtle);

/** Whether this browser makes signatures of the kind the ledger takes. */
export async function canSign() {
  if (!able()) return false;
  try {
    await crypto.subtle.generateKey("Ed25519", false, ["sign", "verify"]);
    return true;
  } catch {
    return false;
  }
}

async function wrapper(secret, salt, rounds) {
  const typed = bytesOf(secret.normalize("NFKC"));
  const base = await crypto.subtle.importKey("raw", typed, "PBKDF2", false, ["deriveKey"]);
  const how = { name: "PBKDF2", hash: "SHA-256", salt, iterations: rounds };
  const uses = ["wrapKey", "unwrapKey"];
  return crypto.subtle.deriveKey(how, base, { name: "AES-GCM", length: 256 }, false, uses);
}

async function wrapped(format, key, by, label) {
  const iv = random(12);
  return { iv, data: await crypto.subtle.wrapKey(format, key, by, bound(iv, label)) };
}

const labels = (person) => [`windtee data key ${person}`, `windtee signing key ${person}`];

const USES = ["encrypt", "decrypt"];

/**
 * A vault not kept yet and `sign`, for the proof that its key is held. What `before` sealed stays
 * readable: its data key goes over into the new one; WrongSecretError when the secret is another.
 */
export async function make(person, secret, before) {
  const salt = random(16);
  const [forData, forSigning] = labels(person);
  const wrapping = await wrapper(secret, salt, ROUNDS);
  const data = before
    ? await unwrapped(before, secret, "data", "AES-GCM", USES, true)
    : await crypto.subtle.generateKey({ name: "AES-GCM", length: 256 }, true, USES);
  const pair = await crypto.subtle.generateKey("Ed25519", true, ["sign", "verify"]);
  const vault = {
    person,
    salt,
    rounds: ROUNDS,
    data: await wrapped("raw", data, wrapping, forData),
    signing: await wrapped("pkcs8", pair.privateKey, wrapping, forSigning),
    public: toHex(await crypto.subtle.exportKey("raw", pair.publicKey)),
    made_at: Date.now(),
  };
  const sign = async (text) =>
    toHex(await crypto.subtle.sign("Ed25519", pair.privateKey, bytesOf(text)));
  return { vault, sign };
}

/** The vault of a person on this phone, or undefined. */
export const find = (person) => (person ? db.get("vaults", person) : undefined);

/** Keep a vault whose key the school knows by the name `kid`. */
export const keep = (vault, kid, name) => db.put("vaults", { ...vault, kid, name, revoked: false });

/** Say that the school no longer takes this phone's signatures, or takes them again. */
export async function mark(person, revoked) {
  const vault = await find(person);
  if (vault && vault.revoked !== revoked) await db.put("vaults", { ...vault, revoked });
}

async function unwrapped(vault, secret, part, kind, uses, extractable = false) {
  const [forData, forSigning] = labels(vault.person);
  const wrapping = await wrapper(secret, vault.salt, vault.rounds);
  const label = part === "data" ? forData : forSigning;
  const format = part === "data" ? "raw" : "pkcs8";
  const { iv, data } = vault[part];
  const how = bound(iv, label);
  try {
    return await crypto.subtle.unwrapKey(format, data, wrapping, how, kind, extractable, uses);
  } catch {
    throw new WrongSecretError("This is not the secret this phone was set up with.");
  }
}

/** Open the vault for a while; WrongSecretError. */
export async function unlock(person, secret) {
  const vault = await find(person);
  const key = await unwrapped(vault, secret, "data", "AES-GCM", USES);
  const now = Date.now();
  await db.put("open", { person, key, until: now + HOURS * 60 * MINUTE, seen: now });
  return key;
}

/** The data key while the vault is open, else null. Use by a page in sight keeps it open. */
export async function opened(person) {
  const row = person ? await db.get("open", person) : undefined;
  if (!row) return null;
  const now = Date.now();
  const over = now > row.until || Math.abs(now - row.seen) > IDLE_MINUTES * MINUTE;
  if (over || now < row.until - HOURS * 60 * MINUTE - MINUTE) {
    await lock(person);
    return null;
  }
  const inSight = document.visibilityState === "visible";
  if (inSight && now - row.seen > MINUTE) await db.put("open", { ...row, seen: now });
  return row.key;
}

/** Close the vault: the data key is gone until the secret is typed again. */
export const lock = (person) => db.drop("open", person);

/** A value that only the open vault can read; `label` binds it to its place. */
export async function seal(key, label, value) {
  const iv = random(12);
  const text = bytesOf(JSON.stringify(value));
  return { iv, data: await crypto.subtle.encrypt(bound(iv, label), key, text) };
}

/** The value that was sealed; LockedError without the key. */
export async function unseal(key, label, sealed) {
  if (!key) throw new LockedError("Type your secret to read what is on this phone.");
  const plain = await crypto.subtle.decrypt(bound(sealed.iv, label), key, sealed.data);
  return JSON.parse(new TextDecoder().decode(plain));
}

/** The signature (hex) under a statement and the name of its key; WrongSecretError. */
export async function sign(person, secret, text) {
  const vault = await find(person);
  const key = await unwrapped(vault, secret, "signing", "Ed25519", ["sign"]);
  const sig = toHex(await crypto.subtle.sign("Ed25519", key, bytesOf(DOMAIN + text)));
  return { text, sig, kid: vault.kid };
}

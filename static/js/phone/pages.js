// What pages of ours must know of each other.

/** Hold a lock while `act` runs; `act` gets null when another page holds it and `wait` is false. */
export function locked(name, act, wait = true) {
  if (!navigator.locks) return act({});
  return navigator.locks.request(name, wait ? {} : { ifAvailable: true }, act);
}

/** Whether words are on this page that are kept nowhere yet; pages that take words set this. */
export const risk = { asked: () => false };

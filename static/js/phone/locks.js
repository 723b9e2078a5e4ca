// What only one page of ours may do at a time.

/** Hold a lock while `act` runs; `act` gets null when another page holds it and `wait` is false. */
export function locked(name, act, wait = true) {
  if (!navigator.locks) return act({});
  return navigator.locks.request(name, wait ? {} : { ifAvailable: true }, act);
}

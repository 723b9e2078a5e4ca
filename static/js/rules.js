// The rules of a card, for a browser without signal: the same as the program's, word for word.
//
// `card` is what `Card.as_json` gives, `setting` what `gradebook/records/pocket.py` gives of the
// school's rules. The server judges every card again; a browser that errs is refused there.

export { check, missing } from "./rules/check.js";
export { readDay, schoolDay } from "./rules/days.js";
export { gauges } from "./rules/gauges.js";
export { proposal } from "./rules/outcome.js";
export { review } from "./rules/review.js";
export { hours, times } from "./rules/times.js";

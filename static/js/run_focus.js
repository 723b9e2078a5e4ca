// Where the keyboard goes on in a flow run.

/** To the next item without a tick after the one tapped; else to what can be done next. */
export function focusAfter(place, item) {
  const rows = [...place.querySelectorAll("li.row")];
  const at = rows.findIndex((row) => row.id === item);
  const next = rows.slice(at + 1).find((row) => row.querySelector("button"));
  (next ?? place.querySelector("#acts")).querySelector("button, a").focus();
}

// The error chips of a card from the pocket: open watch items, what readings and flow run propose,
// and what is marked stand in sight; the rest of the catalogue behind its fold.

import { gauges } from "../rules.js";
import { taskOf } from "../rules/setting.js";
import { t } from "../words.js";
import { make } from "./dom.js";

function chip(task, error, { chosen, open, why }) {
  const input = make("input", { type: "checkbox", name: `errors-${task.code}`, value: error.code });
  input.checked = chosen;
  const critical = error.severity === "safety-critical" ? " chip-critical" : "";
  const more = [`· ${t(error.severity)}`, open ? t("· open watch item") : "",
    why ? `· ${t("proposed, tap to confirm: {why}", { why })}` : ""];
  return make("label", { class: `chip${critical}${open ? " chip-open" : ""}` }, input, " ",
    make("span", { class: "chip-words" }, error.words, " ",
      make("span", { class: "chip-severity" }, more.filter(Boolean).join(" "))));
}

/** The errors offered for a task, those in sight first, each with what is known of it. */
function offered(task, setting, chosen, reasons) {
  const isKnown = ({ code }) => chosen.includes(code) || reasons.has(code);
  return [...task.errors, ...setting.generic.filter(isKnown)].map((error) => {
    const [open, why] = [task.watched.includes(error.code), reasons.get(error.code)];
    return { error, open, why, chosen: chosen.includes(error.code) };
  });
}

function lay(station, task, setting, chosen, reasons) {
  const place = station.querySelector("[data-chips]");
  const fold = place.querySelector("details");
  const all = offered(task, setting, chosen, reasons);
  const made = (some) => some.map((one) => chip(task, one.error, one));
  const open = all.filter((one) => one.open);
  const noted = all.filter((one) => !one.open && (one.chosen || one.why));
  const rest = all.filter((one) => !one.open && !one.chosen && !one.why);
  for (const old of place.querySelectorAll(":scope > .chip, :scope > details > .chips")) old.remove();
  fold.before(...made([...open, ...noted]));
  if (rest.length) fold.querySelector("summary").after(make("div", { class: "chips" }, made(rest)));
}

/** Lay the chips of every task of the form anew, as the card marks them. */
export function layChips(form, setting, card) {
  const { proposed } = gauges(card, setting);
  for (const station of form.querySelectorAll("[data-task]")) {
    const task = taskOf(setting, station.dataset.task);
    const marks = proposed.filter((one) => one.task === task?.code);
    const chosen = card.entries.find((one) => one.task === task?.code)?.errors ?? [];
    if (task) lay(station, task, setting, chosen, new Map(marks.map((one) => [one.error, one.why])));
  }
}

// The readings of the aircraft chosen on a card from the pocket, in place of those before.

import { aircraftOf, taskOf } from "../rules/setting.js";
import { limitWords } from "../rules/limits.js";
import { unitSign } from "../rules/readings.js";
import { strip } from "../rules/text.js";
import { t } from "../words.js";
import { make } from "./dom.js";

const FEW = 7;

/** The limits on one reading, in words. */
const limitsOn = (aircraft, { code, unit }) =>
  aircraft.limits.filter(({ of }) => of === code).map((limit) => limitWords(limit, unit)).join("; ");

function answers(attributes, typed) {
  const offered = [["", "—"], ["yes", t("yes")], ["no", t("no")]];
  return make("select", attributes, offered.map(([value, words]) => make("option", { value, selected: value === typed }, words)));
}

function reading(aircraft, one, typed) {
  const name = `reading-${one.code}`;
  const attributes = { id: name, name, "aria-describedby": `${name}-limit ${name}-verdict` };
  const field = one.unit === "yes-no"
    ? [answers(attributes, typed)]
    : [make("input", { ...attributes, value: typed, inputmode: "decimal", autocomplete: "off", maxlength: "20" }),
      make("span", { class: "reading-unit" }, unitSign(one.unit))];
  return make("div", { class: "reading", "data-reading": one.code },
    make("label", { for: name }, one.words),
    make("span", { class: "reading-value" }, field),
    make("span", { class: "reading-limit", id: `${name}-limit` }, limitsOn(aircraft, one)),
    make("output", { class: "reading-verdict", id: `${name}-verdict`, for: name, "data-verdict": true }));
}

function section(aircraft, asked, readings) {
  const typed = (one) => (Object.hasOwn(readings, one.code) ? readings[one.code] : "");
  const n = asked.filter((one) => strip(typed(one))).length;
  const all = asked.length === 1 ? t("1 reading") : t("{n} readings", { n: asked.length });
  return make("section", { class: "stack" },
    make("h2", { id: "readings" }, t("Readings")),
    make("details", { open: n > 0 || asked.length < FEW },
      make("summary", {}, t("{n} of {readings} taken", { n, readings: all })),
      make("div", { class: "readings" }, asked.map((one) => reading(aircraft, one, typed(one))))));
}

/** Put the readings of the card's aircraft into its form; what was typed in them stands there. */
export function layReadings(form, setting, card) {
  const aircraft = aircraftOf(card, setting);
  const found = aircraft && setting.lesson.flies ? aircraft.readings : [];
  const asked = found.filter((one) => taskOf(setting, one.task));
  form.querySelector("#readings")?.closest("section").remove();
  form.querySelector(".jumps a[href='#readings']")?.remove();
  form.querySelector(".jumps [value=flow]")?.toggleAttribute("hidden", !aircraft);
  if (!asked.length) return;
  form.querySelector("#times").closest("section").before(section(aircraft, asked, card.readings));
  form.querySelector(".jumps a").before(make("a", { href: "#readings" }, t("Readings")), " ");
}

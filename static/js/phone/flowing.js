// The flow run from the pocket: the same items, taps and words as with a network, on the same draft
// as the card. Each tap goes through the card's desk, which keeps it before it says so.

import { gauges } from "../rules.js";
import { flowRun, stepped } from "../rules/run.js";
import { aircraftOf, taskOf } from "../rules/setting.js";
import { figure, t } from "../words.js";
import { button, make } from "./dom.js";

const DONE = { done: () => t("performed"), prompted: () => t("prompted"), skipped: () => t("skipped") };
const LABELS = { done: () => t("Performed"), prompted: () => t("Prompted"), skipped: () => t("Skipped") };

const many = (n, one, more) => (n === 1 ? one : more);
const items = (n) => many(n, t("1 item"), t("{n} items", { n }));
const departures = (n) => many(n, t("1 departure"), t("{n} departures", { n }));

function tabs(aircraft, part, open) {
  const parts = [...new Set(aircraft.blocks.map((block) => block.checklist))];
  const link = (one) => {
    const made = make("a", { href: `?part=${encodeURIComponent(one)}`, "aria-current": one === part && "page" }, one);
    made.addEventListener("click", (event) => {
      event.preventDefault();
      open(one);
    });
    return make("li", {}, made);
  };
  return make("nav", { class: "tabs", "aria-label": t("Checklists") }, make("ul", { class: "tabs-list" }, parts.map(link)));
}

function tick(item, how, tap) {
  const words = LABELS[how]();
  const made = button(words, () => tap(`${how}:${item.code}`), how === "done" ? "" : "button-plain");
  made.setAttribute("aria-label", `${item.words}: ${DONE[how]()}`);
  return made;
}

function itemRow(item, how, tap) {
  const done = how && make("span", { class: `tick tick-${how}` }, DONE[how]());
  return make("li", { class: "row", id: item.code },
    make("span", {}, make("strong", {}, item.words), ` ${item.expect} `, done || null),
    how ? null : make("span", { class: "row ticks" }, Object.keys(DONE).map((one) => tick(item, one, tap))));
}

function blocks(aircraft, part, steps, tap) {
  const how = new Map(steps.map((step) => [step.item, step.how]));
  return aircraft.blocks.filter((block) => block.checklist === part).map((block) =>
    make("section", { class: "stack" },
      make("h2", {}, block.title, block.any_order ? [" ", make("span", { class: "small dim" }, t("in any order"))] : null),
      make("ol", { class: "ruled" }, block.items.map((item) => itemRow(item, how.get(item.code), tap)))));
}

function acts(aircraft, part, steps, tap, back) {
  const touched = new Set(steps.map((step) => step.item));
  const isLeft = (block) => block.checklist === part && block.items.some((item) => !touched.has(item.code));
  return make("div", { class: "row", id: "acts" },
    aircraft.blocks.some(isLeft) ? button(t("Rest of this checklist as listed"), () => tap("rest")) : null,
    steps.length ? button(t("Take the last tick back"), () => tap("undo")) : null,
    steps.length ? button(t("Clear the run"), () => tap("clear"), "button-plain") : null,
    button(t("Back to the card"), back, "button-signal"));
}

function summary(aircraft, steps) {
  const run = flowRun(aircraft, steps);
  if (!run) return [];
  const { distance, expected, omitted, moved, prompted, agreement } = run;
  const said = t("{items} in the run's checklists, {omitted} omitted, {moved} out of place, {prompted} prompted",
    { items: items(expected), omitted, moved, prompted });
  const order = agreement === null ? "" : t("; order agreement {agreement} (Kendall's tau: 1 in order, 0 none, -1 backwards)",
    { agreement: figure(agreement.toFixed(2)) });
  const title = distance ? t("{departures} from the flow", { departures: departures(distance) }) : t("In order so far");
  return [make("section", { class: "stack" }, make("h2", {}, title), make("p", {}, `${said}${order}.`))];
}

function marks(setting, card) {
  const { proposed } = gauges(card, setting);
  if (!card.steps.length || !proposed.length) return [];
  const listed = proposed.map((mark) =>
    make("li", {}, `${taskOf(setting, mark.task).title}: ${mark.why} `,
      make("span", { class: `severity severity-${mark.severity}` }, t(mark.severity))));
  return [make("section", { class: "stack" },
    make("h2", {}, t("Proposed error marks")),
    make("p", { class: "small dim" }, t("Confirm them on the card, or leave them.")),
    make("ul", { class: "ruled" }, listed))];
}

/** What the desk says of where the words are, said here too. */
function statusOf(desk) {
  const line = make("p", { class: "small dim", role: "status", "data-status": true });
  const follow = () => (line.textContent = desk.status.textContent);
  new MutationObserver(follow).observe(desk.status, { childList: true, characterData: true, subtree: true });
  follow();
  return line;
}

/** To the next item without a tick after the one tapped; else to what can be done next. */
function focusAfter(place, item) {
  const rows = [...place.querySelectorAll("li.row")];
  const at = rows.findIndex((row) => row.id === item);
  const next = rows.slice(at + 1).find((row) => row.querySelector("button"));
  (next ?? place.querySelector("#acts")).querySelector("button")?.focus();
}

/** The flow run of the desk's card. `back` leads to the card. */
export function run(desk, setting, back) {
  const place = make("div", { class: "stack" });
  const aircraft = aircraftOf(desk.read(), setting);
  if (!aircraft) {
    place.append(make("div", { class: "empty stack" },
      make("p", {}, make("strong", {}, t("No aircraft type is chosen on the card."))),
      make("p", { class: "dim" }, t("Go back to the card and choose one: the checklist is the aircraft's.")),
      make("p", {}, button(t("Back to the card"), back, "button-signal"))));
    return place;
  }
  const parts = aircraft.blocks.map((block) => block.checklist);
  const asked = new URLSearchParams(location.search).get("part");
  let part = parts.includes(asked) ? asked : parts[0];
  const status = statusOf(desk);
  const draw = () => {
    const card = desk.read();
    place.replaceChildren(
      make("p", { class: "small dim" }, t("{notice} Tap each item when the student performs it, in the order performed. The approved checklist in the aircraft is the one that counts.", { notice: aircraft.notice })),
      tabs(aircraft, part, open), status,
      ...blocks(aircraft, part, card.steps, tap), acts(aircraft, part, card.steps, tap, back),
      ...summary(aircraft, card.steps), ...marks(setting, card));
  };
  const open = (wanted) => {
    part = wanted;
    history.replaceState({}, "", `?part=${encodeURIComponent(part)}`);
    draw();
    place.querySelector("[aria-current]").focus();
  };
  const tap = (wanted) => {
    desk.step(stepped(desk.read().steps, aircraft, wanted, part));
    draw();
    focusAfter(place, wanted.split(":")[1]);
  };
  draw();
  return place;
}

// The stations of a card from the pocket laid anew: what a lesson signed on this phone has closed
// leaves the spine, what it left open joins it, with the targets and last grades of that moment.

import { meets, rank, scaleOf, wordsFor } from "../rules/setting.js";
import { t } from "../words.js";
import { make } from "./dom.js";
import { day } from "./times.js";

const hidden = (words) => make("span", { class: "visually-hidden" }, words);

function head(setting, task) {
  const { carried } = task;
  const mark = make("span", { class: `station-mark station-${carried ? "carried" : "todo"}` });
  const lesson = carried && (setting.lessons.find((one) => one.code === carried.origin_lesson)?.title ?? carried.origin_lesson);
  const origin = carried && t("{lesson}, {day}: {why}", { lesson, day: day(carried.since), why: t(carried.why) });
  return [mark,
    carried ? make("p", { class: "station-origin" }, t("Carried over from {origin}", { origin })) : null,
    make("h3", {}, task.title),
    make("p", { class: "small dim" }, t("Target {target}", { target: wordsFor(scaleOf(setting, task), task.target) }))];
}

function layNotch(notch, scale, task) {
  const level = notch.querySelector("input").value;
  const isTarget = level === task.target;
  for (const old of notch.querySelectorAll(":scope > :not(input, .notch-words)")) old.remove();
  notch.classList.toggle("notch-meets", rank(scale, task.target) !== null && meets(scale, level, task.target));
  notch.classList.toggle("notch-standard", isTarget);
  if (isTarget) notch.append(make("span", { class: "notch-flag" }), hidden(t(", meets the standard")));
  if (level === task.last) notch.append(make("span", { class: "notch-last" }), hidden(t(", last lesson")));
}

function blank(station) {
  for (const field of station.querySelectorAll("input, textarea")) {
    if (field.type === "hidden" || field.matches("textarea")) field.value = "";
    else field.checked = false;
  }
  station.querySelector("details")?.removeAttribute("open");
}

function lay(station, setting, task) {
  station.querySelector(".station-head").replaceChildren(...head(setting, task).filter(Boolean));
  const scale = scaleOf(setting, task);
  for (const notch of station.querySelectorAll(".notch")) layNotch(notch, scale, task);
}

/** Lay the stations of a form as the setting asks; `others` are forms that hold what it lacks. */
export function layStations(form, setting, others) {
  const found = (code) => (one) => one.querySelector(`[data-task="${CSS.escape(code)}"]`);
  const stations = setting.tasks.map((task) => {
    const own = found(task.code)(form);
    const station = own ?? document.importNode(others.map(found(task.code)).find(Boolean), true);
    if (!own) blank(station);
    lay(station, setting, task);
    return station;
  });
  form.querySelector(".spine").replaceChildren(...stations);
  const bar = form.querySelector("[data-bar] progress");
  if (bar) bar.max = stations.length;
}

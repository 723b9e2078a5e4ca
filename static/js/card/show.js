// What the grading card says back: problems at their fields, verdicts at their readings.

import { t } from "../words.js";

/** "3 of 20 graded". */
export function graded(form) {
  const stations = [...form.querySelectorAll("[data-task]")];
  const done = stations.filter((one) => one.querySelector("[type=radio]:checked"));
  return t("{n} of {all} graded", { n: done.length, all: stations.length });
}

/** Put each problem (field, words) at its field, in place of those shown before. */
export function showProblems(form, problems) {
  for (const old of form.querySelectorAll("[data-problem]")) old.remove();
  for (const one of problems) {
    const field = form.querySelector(`[name="${CSS.escape(one.field)}"]`);
    if (!field) continue;
    const words = document.createElement("p");
    words.className = "field-error";
    words.dataset.problem = one.field;
    words.setAttribute("role", "alert");
    words.textContent = one.words;
    field.closest("fieldset, .field, .reading, details, div")?.append(words);
  }
}

/** Put each verdict (readings, met, words) at the readings it judges. */
export function showVerdicts(form, verdicts) {
  const said = new Map();
  for (const one of verdicts) {
    for (const code of one.readings) {
      const before = said.get(code) ?? { met: true, words: [] };
      said.set(code, { met: before.met && one.met, words: [...before.words, one.words] });
    }
  }
  for (const reading of form.querySelectorAll("[data-reading]")) {
    const found = said.get(reading.dataset.reading);
    const output = reading.querySelector("[data-verdict]");
    output.replaceChildren();
    if (!found) continue;
    const mark = document.createElement("span");
    mark.className = `verdict verdict-${found.met ? "met" : "missing"}`;
    mark.textContent = found.met ? t("within the limit,") : t("outside the limit,");
    output.append(mark, ` ${found.words.join("; ")}`);
  }
}

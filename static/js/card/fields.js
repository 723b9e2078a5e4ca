// The grading card between its form and plain values: the same reading as the server's.

const TEXTS = ["flown_on", "aircraft", "ident", "remarks", "outcome", "next_lesson"];

const valueOf = (form, name) => {
  const field = form.elements[name];
  if (!field) return "";
  if (field instanceof RadioNodeList) return field.value;
  if (field.type === "radio" || field.type === "checkbox") return field.checked ? field.value : "";
  return field.value;
};

const chosen = (form, name) =>
  [...form.querySelectorAll(`[name="${CSS.escape(name)}"]:checked`)].map((one) => one.value);

function typed(form, prefix) {
  const found = {};
  for (const { name } of form.elements) {
    if (!name?.startsWith(prefix)) continue;
    const value = valueOf(form, name);
    if (value) found[name.slice(prefix.length)] = value;
  }
  return found;
}

function entry(form, task) {
  const level = valueOf(form, `level-${task}`);
  return {
    task,
    level,
    remark: valueOf(form, `remark-${task}`),
    errors: chosen(form, `errors-${task}`),
    together: Boolean(level) && valueOf(form, `together-${task}`) === level,
  };
}

/** Readings typed for another aircraft type, which has fields of its own. */
const elsewhere = (form, readings) =>
  Object.fromEntries(Object.entries(readings).filter(([code]) => !form.elements[`reading-${code}`]));

/** The card as it stands in the form. What the form does not hold stays as it is in `before`. */
export function readCard(form, before = {}) {
  const stations = [...form.querySelectorAll("[data-task]")];
  const texts = TEXTS.map((name) => [name, valueOf(form, name)]);
  return {
    ...Object.fromEntries(texts),
    entries: stations.map((one) => entry(form, one.dataset.task)),
    readings: { ...elsewhere(form, before.readings ?? {}), ...typed(form, "reading-") },
    steps: before.steps ?? JSON.parse(form.dataset.steps ?? "[]"),
    times: typed(form, "times-"),
  };
}

function put(form, name, value) {
  const field = form.elements[name];
  if (!field) return;
  if (field instanceof RadioNodeList || field.type === "radio" || field.type === "checkbox") {
    const wanted = Array.isArray(value) ? value : [value];
    for (const one of form.querySelectorAll(`[name="${CSS.escape(name)}"]`)) {
      one.checked = wanted.includes(one.value);
    }
  } else {
    field.value = value;
  }
}

/** Put a card into the form. */
export function fillCard(form, card) {
  for (const name of TEXTS) put(form, name, card[name] ?? "");
  for (const { task, level, remark, errors, together } of card.entries ?? []) {
    put(form, `level-${task}`, level);
    put(form, `remark-${task}`, remark);
    put(form, `errors-${task}`, errors);
    put(form, `together-${task}`, together ? level : "");
    if (remark) form.elements[`remark-${task}`]?.closest("details")?.setAttribute("open", "");
  }
  for (const [part, prefix] of [["readings", "reading-"], ["times", "times-"]]) {
    for (const { name } of form.elements) {
      if (name?.startsWith(prefix)) put(form, name, card[part]?.[name.slice(prefix.length)] ?? "");
    }
  }
}

const isEmpty = (value) =>
  value === "" || value === false || value === null || value === undefined ||
  (typeof value === "object" && !Object.keys(value).length);

/** A value without what is empty, in one order of names. */
function plain(value) {
  if (Array.isArray(value)) return value.map(plain);
  if (value === null || typeof value !== "object") return value;
  const kept = Object.keys(value).sort().filter((name) => !isEmpty(value[name]));
  return Object.fromEntries(kept.map((name) => [name, plain(value[name])]));
}

/** Whether two cards say the same. */
export const sameCard = (one, other) =>
  JSON.stringify(plain(one)) === JSON.stringify(plain(other));

/** Whether one of `cards` says the same as `card`, when there is one. */
export const isAmong = (cards, card) =>
  Boolean(card) && cards.some((one) => sameCard(one, card));

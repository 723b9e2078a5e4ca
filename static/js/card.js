// Saves the grading card at every tap; without this script the Save button does the same.
// What the server has not confirmed is kept on this phone and sent again.

const form = document.querySelector("form[data-card]");
const status = form.querySelector("[data-status]");
const version = form.elements.version;
const key = `windtee-card-${form.dataset.card}`;
const WAIT = 350;
const AGAIN = 5000;

let timer = 0;
let sending = false;
let waiting = false;
let halted = false;

function say(words) {
  status.textContent = words;
}

function graded() {
  const stations = [...form.querySelectorAll("[data-task]")];
  return `${stations.filter((one) => one.querySelector("[type=radio]:checked")).length} of ${stations.length} graded`;
}

function body() {
  const data = new FormData(form);
  data.set("do", "save");
  return new URLSearchParams(data);
}

function keepHere(submitted = false) {
  const data = body();
  data.delete("csrf_token");
  try {
    localStorage.setItem(key, JSON.stringify({ version: version.value, fields: [...data], submitted }));
  } catch {
    say(`This phone has no room to keep a copy. ${graded()}`);
  }
}

function changed() {
  if (halted) return;
  keepHere();
  say(`Saving… · ${graded()}`);
  clearTimeout(timer);
  timer = setTimeout(send, WAIT);
}

async function send() {
  if (sending) {
    waiting = true;
    return;
  }
  sending = true;
  try {
    const answer = await fetch(form.action, {
      method: "POST",
      body: body(),
      headers: { Accept: "application/json" },
    });
    await show(answer);
  } catch {
    say(`On this phone only, not yet saved · ${graded()}`);
    timer = setTimeout(send, AGAIN);
  } finally {
    sending = false;
    if (waiting) {
      waiting = false;
      send();
    }
  }
}

async function show(answer) {
  const told = await answer.json().catch(() => ({}));
  if (answer.ok) {
    version.value = told.version;
    if (!waiting) localStorage.removeItem(key);
    say(`Saved ${told.saved} · ${graded()}`);
    form.querySelector("[data-total]").textContent = told.total;
    showProblems(told.problems);
    showVerdicts(told.verdicts);
    return;
  }
  if (answer.status === 409) halted = true;
  if (answer.status === 422) showProblems(told.problems ?? []);
  say(`${told.error ?? "Not saved"} · kept on this phone`);
}

function showProblems(problems) {
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

function showVerdicts(verdicts) {
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
    mark.textContent = found.met ? "within the limit," : "outside the limit,";
    output.append(mark, ` ${found.words.join("; ")}`);
  }
}

function same(fields) {
  const skip = (pairs) => JSON.stringify(pairs.filter(([name, value]) => value && !["version", "do"].includes(name)));
  const now = body();
  now.delete("csrf_token");
  return skip(fields) === skip([...now]);
}

function restore() {
  const kept = JSON.parse(localStorage.getItem(key) ?? "null");
  if (!kept) return;
  const arrived = kept.submitted && Number(version.value) > Number(kept.version);
  if (arrived || same(kept.fields)) {
    localStorage.removeItem(key);
    return;
  }
  if (kept.version !== version.value) {
    say("This phone holds words that were not saved; the card was saved elsewhere meanwhile.");
    return;
  }
  const values = new Map();
  for (const [name, value] of kept.fields) values.set(name, [...(values.get(name) ?? []), value]);
  for (const field of form.elements) {
    if (!field.name || field.name === "csrf_token" || field.name === "version") continue;
    const wanted = values.get(field.name) ?? [];
    if (field.type === "radio" || field.type === "checkbox") {
      field.checked = wanted.includes(field.value);
    } else if (field.type !== "submit" && wanted.length) {
      field.value = wanted[0];
    }
  }
  send();
}

// Number keys choose a notch; the arrow keys left and right of the browser move along them.
function choose(event) {
  const notches = event.target.closest?.("[data-notches]");
  if (!notches || !/^[1-9]$/.test(event.key)) return;
  const radio = notches.querySelectorAll(".notch input")[Number(event.key) - 1];
  if (!radio) return;
  event.preventDefault();
  radio.focus();
  radio.click();
}

form.addEventListener("change", changed);
form.addEventListener("input", (event) => {
  if (event.target.matches("input:not([type=radio], [type=checkbox]), textarea")) changed();
});
form.addEventListener("keydown", choose);
// A button pressed while a save is on its way waits for it, so that the version is the newest.
form.addEventListener("submit", async (event) => {
  clearTimeout(timer);
  if (sending) {
    event.preventDefault();
    while (sending) await new Promise((resume) => setTimeout(resume, 20));
    form.requestSubmit(event.submitter);
    return;
  }
  halted = true;
  keepHere(true);
});
// A card brought back by the Back button is the card of then: fetch the one of now.
addEventListener("pageshow", (event) => {
  if (event.persisted) location.reload();
});
addEventListener("online", send);
// Taps made before this script had arrived count too.
function touched() {
  return [...form.elements].some((field) => {
    if (field.type === "radio" || field.type === "checkbox") {
      return field.checked !== field.defaultChecked;
    }
    return field.matches("input:not([type=hidden]), textarea") && field.value !== field.defaultValue;
  });
}

restore();
if (touched()) changed();

// The flow run from the server: a tap changes what it has to and leaves the page where it is. When
// no network answers, the tap is kept on this phone and the run goes on from the pocket.

import { t } from "./words.js";

const isNobody = (answer) => answer.status === 502 || answer.status === 504;
let passing = false;

/** Keep the tap in the card's draft here; whether the pocket can go on from it. */
async function keep({ run: record, version, words }, wanted, part) {
  const [db, pocket, drafts] = await Promise.all(
    ["db", "pocket", "drafts"].map((name) => import(`./phone/${name}.js`)));
  const person = document.body.dataset.person ?? "";
  if (!(await db.get("cards", [person, record]))) return false;
  const { enrolment, setting, student } = await pocket.find(person, record);
  const [{ stepped }, { aircraftOf }] = await Promise.all([import("./rules/run.js"), import("./rules/setting.js")]);
  const before = JSON.parse(words);
  const card = { ...before, steps: stepped(before.steps, aircraftOf(before, setting), wanted, part) };
  const lesson = setting.lesson.code;
  const title = `${student.name}, ${lesson.toUpperCase()}`;
  await drafts.keep({ person, record, enrolment, lesson, version: Number(version) }, { title, card });
  return true;
}

async function away(form, data) {
  const [wanted, part] = [data.get("do"), data.get("part")];
  const isKept = await keep(form.dataset, wanted, part).catch(() => false);
  if (isKept) return location.assign(`?part=${encodeURIComponent(part)}`);
  const said = form.querySelector("[data-status]");
  said.textContent = t("No network, and this card is not open on this phone: nothing was ticked. Try again when there is one.");
  said.hidden = false;
}

/** Put the page that came in place of this one, and go to the next item. */
function show(text, wanted) {
  const came = new DOMParser().parseFromString(text, "text/html").querySelector("main");
  const main = document.querySelector("main");
  main.replaceChildren(...document.adoptNode(came).childNodes);
  const rows = [...main.querySelectorAll("li.row")];
  const at = rows.findIndex((row) => row.id === wanted.split(":")[1]);
  const next = rows.slice(at + 1).find((row) => row.querySelector("button"));
  (next ?? main.querySelector("#acts")).querySelector("button, a").focus();
}

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (passing || !form.matches("form[data-run]")) return;
  event.preventDefault();
  const data = new FormData(form, event.submitter);
  try {
    const answer = await fetch(form.action, { method: "POST", body: new URLSearchParams(data) });
    if (isNobody(answer)) return await away(form, data);
    if (answer.ok) return show(await answer.text(), data.get("do"));
  } catch {
    return await away(form, data);
  }
  passing = true;
  return form.requestSubmit(event.submitter);
});

// The page of long work: its count once a second, said aloud at each tenth.

const place = document.querySelector("[data-job]");
const [words, aloud, offline, reload] = ["words", "aloud", "offline", "reload"].map((name) =>
  place.querySelector(`[data-job-${name}]`),
);
const bar = place.querySelector("progress");
const EVERY_MS = 1000;

function show(told) {
  words.textContent = told.words;
  if (told.total) {
    bar.max = told.total;
    bar.value = told.done;
  } else bar.removeAttribute("value");
  const tenth = told.total ? Math.floor((10 * told.done) / told.total) : 0;
  const step = `${told.words.replace(/\d+/g, "")} ${tenth}`;
  if (aloud.dataset.step !== step) {
    aloud.dataset.step = step;
    aloud.textContent = told.words;
  }
}

async function look() {
  if (document.hidden) return;
  let answer;
  try {
    answer = await fetch(place.dataset.job, { headers: { Accept: "application/json" } });
  } catch {
    offline.hidden = false;
    return;
  }
  offline.hidden = true;
  if (answer.status === 503) return; // the database is busy: a later look will do
  const told = answer.ok ? await answer.json() : {};
  if (told.state === "asked") show(told);
  else location.reload(); // it has ended, or the session has: the page says which
}

async function keepLooking() {
  await look();
  setTimeout(keepLooking, EVERY_MS);
}

reload.hidden = true;
setTimeout(keepLooking, EVERY_MS);

// Along the flow spine of a card: the next task without a grade, number keys that choose a notch,
// arrow keys between tasks, and the errors of a task unfolded when its grade is below target. The
// page does without.

const stations = (form) => [...form.querySelectorAll("[data-task]")];
const notches = (station) => station.querySelector("[data-notches]");
const open = (form) => stations(form).find((one) => !one.querySelector("[type=radio]:checked"));

/** Say in the bar how far the card is, and lead to the next task without a grade. */
export function follow(form) {
  const bar = form.querySelector("[data-bar]");
  if (!bar) return;
  const next = bar.querySelector("[data-next]");
  const left = open(form);
  bar.querySelector("progress").value = form.querySelectorAll("[data-task]:has([type=radio]:checked)").length;
  next.textContent = left ? next.dataset.open : next.dataset.done;
  next.hash = left ? notches(left).id : "outcome";
}

function goTo(station) {
  const line = notches(station);
  (line.querySelector(":checked") ?? line.querySelector("input")).focus();
}

// Below target wants an error or a remark: show where, and fold it again when the grade rises.
function unfold(notch) {
  const station = notch.closest("[data-task]");
  const fold = station.querySelector("details");
  const below = !notch.classList.contains("notch-meets");
  const said = station.querySelector("[data-chips] :checked") ?? station.querySelector("textarea")?.value;
  if (!fold || said || fold.open === below) return;
  if (below || fold.dataset.unfolded) fold.open = below;
  fold.dataset.unfolded = below ? "by the grade" : "";
}

function graded({ target }) {
  const notch = target.type === "radio" && target.closest("[data-task] .notch");
  if (notch) unfold(notch);
}

function walk(event) {
  const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  const line = event.target.closest?.("[data-task] [data-notches]");
  if (!step || !line) return;
  event.preventDefault();
  const all = stations(line.form);
  const to = all[all.indexOf(line.closest("[data-task]")) + step];
  if (to) goTo(to);
}

// Number keys choose a notch; the browser moves along them by the arrow keys left and right.
function choose(event) {
  const notches = event.target.closest?.("[data-notches]");
  if (!notches || !/^[1-9]$/.test(event.key)) return;
  const radio = notches.querySelectorAll(".notch input")[Number(event.key) - 1];
  if (!radio) return;
  event.preventDefault();
  radio.focus();
  radio.click();
}

function lead(event) {
  const next = event.target.closest("[data-next]");
  const left = next && open(next.closest("form"));
  if (!left) return;
  event.preventDefault();
  left.scrollIntoView({ block: "center" });
  goTo(left);
}

/** Follow a card from now on; what was chosen before this script had arrived counts too. */
export function begin(form) {
  form.addEventListener("change", graded);
  form.addEventListener("keydown", walk);
  form.addEventListener("keydown", choose);
  form.addEventListener("click", lead);
  for (const chosen of form.querySelectorAll("[data-task] .notch :checked")) unfold(chosen.closest(".notch"));
  follow(form);
}

// On the server's page at once, before what keeps and saves has come; a card from the pocket is
// begun by whoever lays it out.
const here = document.querySelector("form[data-card]");
if (here) begin(here);

// Along the flow spine: the next task without a grade, arrow keys between tasks, and the errors
// of a task unfolded when its grade is below target. The page does without.

const bar = document.querySelector("[data-bar]");
const next = bar.querySelector("[data-next]");
const stations = [...document.querySelectorAll("[data-task]")];
const graded = (station) => station.querySelector("[type=radio]:checked") !== null;
const notches = (station) => station.querySelector("[data-notches]");
const words = { open: next.dataset.open, done: next.dataset.done };

function follow() {
  const open = stations.find((one) => !graded(one));
  bar.querySelector("progress").value = stations.filter(graded).length;
  next.textContent = open ? words.open : words.done;
  next.hash = open ? notches(open).id : "outcome";
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
  const said = [...station.querySelectorAll("[data-chips] :checked, textarea")].some(
    (one) => one.type !== "textarea" || one.value,
  );
  if (said || fold.open === below) return;
  if (below || fold.dataset.unfolded) fold.open = below;
  fold.dataset.unfolded = below ? "by the grade" : "";
}

document.addEventListener("change", (event) => {
  if (event.target.type !== "radio") return;
  follow();
  const notch = event.target.closest(".notch");
  if (notch) unfold(notch);
});

document.addEventListener("keydown", (event) => {
  const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  const line = event.target.closest?.("[data-notches]");
  if (!step || !line) return;
  event.preventDefault();
  const to = stations[stations.indexOf(line.closest("[data-task]")) + step];
  if (to) goTo(to);
});

next.addEventListener("click", (event) => {
  const to = stations.find((one) => `#${notches(one).id}` === next.hash);
  if (!to) return;
  event.preventDefault();
  to.scrollIntoView({ block: "center" });
  goTo(to);
});

follow();

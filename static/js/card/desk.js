// One grading card on the screen, with a network or without: every change is kept on this phone
// first, then brought to the school by the way it was given. A way has `save(card, version)`,
// which tells saved, away, busy, conflict or refused, and `leave(desk, button)`, what a button
// leads to.
// A try whose answer got lost may have been taken: what was tried is kept with the words, so that
// the school's version is known for our own when it comes back as a conflict.

import * as drafts from "../phone/drafts.js";
import { FullError } from "../phone/db.js";
import { locked, risk } from "../phone/pages.js";
import { t } from "../words.js";
import { fillCard, isAmong, readCard, sameCard } from "./fields.js";
import { graded, showProblems, showVerdicts } from "./show.js";
import * as spine from "./spine.js";

const WAIT = 350;
const AGAIN = 5000;
const TRIED = 12;

export class Desk {
  constructor(form, way) {
    Object.assign(this, { form, way, timer: 0, sending: null, halted: false, unkept: 0, how: "" });
    this.version = form.elements.version;
    this.status = form.querySelector("[data-status]");
    this.writing = Promise.resolve();
    this.tried = [];
  }

  /** Take up what this phone holds of the card, then follow every change of it. */
  async begin() {
    this.ready = this.restore().catch((error) => this.noRoom(error));
    risk.asked = () => this.unkept > 0;
    // For as long as this page lives, its words are its own to send.
    locked(`windtee-card-${this.way.record}`, (held) => held && new Promise(() => {}), false);
    const { form } = this;
    form.addEventListener("change", () => this.changed());
    form.addEventListener("input", ({ target }) => {
      if (target.matches("input:not([type=radio], [type=checkbox]), textarea")) this.changed();
    });
    form.addEventListener("submit", (event) => this.submit(event));
    addEventListener("online", () => this.kept && this.send());
    addEventListener("pageshow", ({ persisted }) => persisted && location.reload());
    form.dataset.followed = "";
    await this.ready;
    if (touched(form)) this.changed();
  }

  say(...words) {
    this.status.textContent = [...words, graded(this.form)].join(" · ");
    spine.follow(this.form);
  }

  get row() {
    const { person, record, enrolment, lesson } = this.way;
    return { person, record, enrolment, lesson, version: Number(this.version.value) };
  }

  read() {
    return readCard(this.form, this.way.before);
  }

  /** Write what stands in the form to this phone, one time after another, the newest last. */
  keep() {
    this.unkept += 1;
    this.writing = this.writing.then(async () => {
      await this.ready;
      const words = { title: this.way.title, card: this.read(), tried: this.tried };
      try {
        this.kept = await drafts.keep(this.row, words);
        this.how = await drafts.protection(this.way.person);
        if (this.unkept === 1) this.way.kept?.();
      } catch (error) {
        this.noRoom(error);
      } finally {
        this.unkept -= 1;
      }
    });
    return this.writing;
  }

  noRoom(error) {
    this.how = "screen";
    this.onScreen = error instanceof FullError
      ? t("No room on this phone: what you typed is on this screen only. Free some room, or stay here until it is saved")
      : t("This browser keeps nothing: what you typed is on this screen only");
    this.status.setAttribute("role", "alert");
    this.say(this.onScreen);
  }

  changed() {
    if (this.halted) return;
    this.keep();
    this.say(t("Saving…"));
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.send(), WAIT);
  }

  /** Bring the newest words to the school; one try at a time. What came of it. */
  async send() {
    if (this.halted) return { kind: "halted" };
    clearTimeout(this.timer);
    while (this.sending) await this.sending;
    this.sending = this.try();
    try {
      return await this.sending;
    } finally {
      this.sending = null;
    }
  }

  async try() {
    await this.writing;
    const moment = this.kept;
    const card = this.read();
    if (navigator.onLine) this.tried = [...this.tried.filter((one) => !sameCard(one, card)), card].slice(-TRIED);
    const told = await this.way.save(card, this.version.value, this);
    if (told.kind === "saved") return this.saved(told, card, moment);
    if (told.kind === "conflict") {
      if (isAmong(this.tried, told.theirs)) return this.follow(told.version);
      this.halted = true;
    }
    this.show(told);
    // What was typed since is on its way, and its own try will say how the card stands.
    if (this.unkept && !this.halted) return told;
    if (["away", "busy"].includes(told.kind)) this.timer = setTimeout(() => this.send(), AGAIN);
    this.say(...this.awayWords(told));
    return told;
  }

  /** Go on from the school's version: it is ours, whose answer was lost on the way. */
  follow(version) {
    this.version.value = version;
    return this.try();
  }

  awayWords({ kind, words }) {
    if (this.how === "screen") return [words ?? t("Not saved"), this.onScreen];
    if (kind !== "away") return [words ?? t("Not saved"), t("kept on this phone")];
    const how = { sealed: t("sealed"), locked: t("not sealed: this phone is locked"), plain: t("not sealed") };
    return [t("On this phone only, not yet saved"), how[this.how] ?? ""].filter(Boolean);
  }

  async saved(told, card, moment) {
    this.tried = [];
    if (told.version !== undefined) this.version.value = told.version;
    if (moment && told.version !== undefined) await this.settle(told.version, moment);
    const unchanged = sameCard(card, this.read());
    if (unchanged) this.say(told.words ?? t("Saved {time}", { time: told.saved }));
    this.show(told);
    return told;
  }

  /** What the card comes to, as far as it was told. */
  show({ total, problems, verdicts }) {
    const place = this.form.querySelector("[data-total]");
    if (total && place) place.textContent = total;
    if (problems) showProblems(this.form, problems);
    if (verdicts) showVerdicts(this.form, verdicts);
  }

  /** Every task not graded yet at its target, marked as graded together. */
  rest() {
    for (const one of this.form.querySelectorAll("[data-task]")) {
      const target = one.querySelector(".notch-standard input");
      if (!target || one.querySelector("[type=radio]:checked")) continue;
      target.checked = true;
      this.form.elements[`together-${one.dataset.task}`].value = target.value;
      target.dispatchEvent(new Event("change", { bubbles: true }));
    }
    this.form.querySelector("[data-unset]")?.removeAttribute("hidden");
  }

  settle(version, moment) {
    const { person, record } = this.way;
    return drafts.settle(person, record, version, moment).catch(() => {});
  }

  async submit(event) {
    if (this.passing) return;
    event.preventDefault();
    const button = event.submitter;
    await (this.halted ? this.keep() : this.writing);
    await this.way.leave(this, button);
  }

  /** Let the browser send the form itself, as it does without script. */
  pass(button) {
    this.halted = true;
    this.passing = true;
    this.form.requestSubmit(button);
  }

  /** Bring back words of this card that the school has not got. */
  async restore() {
    const draft = await this.way.draft();
    if (draft && !draft.dirty && draft.version > Number(this.version.value)) this.way.older();
    if (!draft?.dirty || !draft.words) return;
    const { card } = draft.words;
    if (this.way.decides || touched(this.form)) return;
    if (sameCard(card, this.read())) {
      await this.settle(Number(this.version.value), draft.changed_at);
      return;
    }
    const { steps } = this.read();
    if (draft.version !== Number(this.version.value) || !sameCard({ steps }, { steps: card.steps })) {
      await this.way.parted(draft, this);
      return;
    }
    this.kept = draft.changed_at;
    this.tried = drafts.triedOf(draft.words);
    fillCard(this.form, card);
    this.how = await drafts.protection(this.way.person);
    const one = this.form.querySelector("[type=radio]:checked") ?? this.form.elements.remarks;
    one.dispatchEvent(new Event("change", { bubbles: true }));
  }
}

/** Whether a list has another choice than it came with: the marked one, or else its first. */
export const isRechosen = ({ options, selectedIndex }) =>
  selectedIndex !== Math.max(0, [...options].findIndex((one) => one.defaultSelected));

/** Whether something was tapped, typed or chosen before this script had arrived. */
function touched(form) {
  return [...form.elements].some((field) => {
    if (field.type === "radio" || field.type === "checkbox") {
      return field.checked !== field.defaultChecked;
    }
    if (field.matches("select")) return isRechosen(field);
    return field.matches("input:not([type=hidden]), textarea") && field.value !== field.defaultValue;
  });
}

// What is looked at on a page, as functions that return what is wrong in words. The tests put
// this before every page; Python says in which window, light and text size it is asked.

window.look = (() => {
  const FOCUSABLE =
    "a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex='0']";
  const shown = (one) => one.checkVisibility({ visibilityProperty: true }) && one.getClientRects().length > 0;
  const all = (selector, from = document) => [...from.querySelectorAll(selector)].filter(shown);

  function name(one) {
    const words = (one.getAttribute("aria-label") || one.innerText || one.name || one.id || "").trim();
    return `${one.localName}${one.id ? `#${one.id}` : ""} "${words.slice(0, 40)}"`;
  }

  // Wider than the window, and by whom.
  function sideways() {
    if (document.documentElement.scrollWidth <= innerWidth) return [];
    const inside = (one) => one.closest(".table-region, .signed, .visually-hidden");
    const wide = all("body *").filter((one) => !inside(one) && one.getBoundingClientRect().right > innerWidth + 1);
    return [`wider than the window: ${wide.slice(-3).map(name).join(", ")}`];
  }

  // Words that run out of a box which does not show them.
  function cut() {
    const cuts = (one) => {
      const style = getComputedStyle(one);
      const hides = (way) => ["hidden", "clip"].includes(way);
      return (
        (hides(style.overflowX) && one.scrollWidth > one.clientWidth + 1) ||
        (hides(style.overflowY) && one.scrollHeight > one.clientHeight + 1)
      );
    };
    return all("main *, header *, footer *")
      .filter((one) => !one.closest(".visually-hidden, svg, select, textarea, input, .plot") && cuts(one))
      .map((one) => `cut off: ${name(one)}`);
  }

  // Focus by keyboard on everything in turn: is there an outline, and can the thing be seen?
  function focus() {
    const wrong = [];
    const stuck = all("body *").filter((one) => ["sticky", "fixed"].includes(getComputedStyle(one).position));
    for (const one of all(FOCUSABLE).filter((each) => !each.disabled)) {
      one.focus();
      if (document.activeElement !== one) {
        wrong.push(`takes no focus: ${name(one)}`);
        continue;
      }
      const style = getComputedStyle(one);
      if (style.outlineStyle === "none" || parseFloat(style.outlineWidth) < 2) wrong.push(`focus not seen: ${name(one)}`);
      const box = one.getBoundingClientRect();
      const within = (frame) => box.top >= frame.top - 1 && box.bottom <= frame.bottom + 1;
      const over = stuck.filter((bar) => !bar.contains(one) && bar.closest(".table-region") === null);
      if (over.some((bar) => within(bar.getBoundingClientRect()))) wrong.push(`hidden when focused: ${name(one)}`);
      if (box.bottom <= 0 || box.top >= innerHeight) wrong.push(`focused out of sight: ${name(one)}`);
    }
    return wrong;
  }

  // What is tapped on the ramp is 44 pixels each way.
  function targets() {
    const grading = ".notch, .chip, .uncounted .option, .fold > summary, .bar a, button:not(.modebar-btn), .button, select";
    return all(grading)
      .map((one) => [one, one.getBoundingClientRect()])
      .filter(([, box]) => box.height < 43.5 || box.width < 43.5)
      .map(([one, box]) => `${Math.round(box.width)} by ${Math.round(box.height)} pixels: ${name(one)}`);
  }

  // Every field in error says so, and points at the words.
  function errors() {
    const said = (one) =>
      (one.getAttribute("aria-describedby") ?? "")
        .split(/\s+/)
        .some((id) => id && document.getElementById(id)?.textContent.trim());
    const wrong = all("[aria-invalid=true]").filter((one) => !said(one));
    const loose = all("main .field-error").filter((one) => {
      const id = one.id || one.closest("[id]")?.id;
      return !document.querySelector(`[aria-describedby~="${id}"]`);
    });
    return [
      ...wrong.map((one) => `in error without words: ${name(one)}`),
      ...loose.map((one) => `words of an error that belong to no field: ${name(one)}`),
    ];
  }

  function moving() {
    const still = (style) => [...style.transitionDuration.split(","), ...style.animationDuration.split(",")].every((one) => parseFloat(one) === 0);
    const moves = [...document.querySelectorAll("body *")].flatMap((one) =>
      ["", "::before", "::after"].filter((part) => !still(getComputedStyle(one, part))).map((part) => `${name(one)}${part}`),
    );
    return moves.slice(0, 3).map((one) => `moves although less motion is asked for: ${one}`);
  }

  function outline() {
    const wrong = [];
    if (!document.documentElement.lang) wrong.push("says no language");
    if (!document.title.trim()) wrong.push("has no title");
    const heads = all("h1").length;
    if (heads !== 1) wrong.push(`has ${heads} first headings`);
    if (all("main").length !== 1) wrong.push("has no main part");
    return wrong;
  }

  function unfold() {
    for (const one of document.querySelectorAll("main details")) one.open = true;
  }

  async function axe(light, rules) {
    document.documentElement.dataset.theme = light;
    const tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];
    const found = await window.axe.run({
      resultTypes: ["violations"],
      runOnly: rules ? { type: "rule", values: rules } : { type: "tag", values: tags },
    });
    return found.violations.flatMap((one) =>
      one.nodes.slice(0, 3).map((node) => `${light}: ${one.id} at ${node.target.join(" ")}: ${node.failureSummary.replace(/\s+/g, " ")}`),
    );
  }

  // All rules in the light of paper; what a light changes, colours and sizes, in the others.
  async function lights() {
    const changed = ["color-contrast", "target-size", "link-in-text-block"];
    return [...(await axe("paper")), ...(await axe("night", changed)), ...(await axe("sunlight", changed))];
  }

  return { sideways, cut, focus, targets, errors, moving, outline, unfold, lights };
})();

// Elements made by script, without a word of HTML.

/** An element: `make("p", { class: "dim", hidden: true }, "words", other)`. */
export function make(tag, attributes = {}, ...content) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === "function") made.addEventListener(name, value);
    else if (value === true) made.setAttribute(name, "");
    else if (value !== false && value !== null) made.setAttribute(name, value);
  }
  made.append(...content.flat().filter((one) => one !== null && one !== undefined));
  return made;
}

/** A button that cannot be pressed again while its act is under way. */
export function button(words, act, kind = "") {
  const made = make("button", { type: "button", class: kind || null }, words);
  made.addEventListener("click", async () => {
    made.disabled = true;
    try {
      await act();
    } finally {
      made.disabled = false;
    }
  });
  return made;
}

/** A message in the page's own manner; `bad` ones are announced at once. */
export const flash = (words, bad = false) =>
  make("p", { class: `flash flash-${bad ? "error" : "news"}`, role: bad ? "alert" : "status" }, words);

// Words of the interface in the reader's language; the English text is the key.

const address = document.documentElement.dataset.words;

async function fetched() {
  if (!address) return {};
  try {
    const answer = await fetch(address);
    return answer.ok ? await answer.json() : {};
  } catch {
    return {};
  }
}

const catalogue = await fetched();

/** The text in the reader's language, `{name}` replaced by the value of that name. */
export function t(text, values = {}) {
  const said = catalogue[text] ?? text;
  return said.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? values[name] : whole));
}

let sign = "";

function decimalSign() {
  const parts = new Intl.NumberFormat(document.documentElement.lang || "en").formatToParts(0.1);
  return parts.find((part) => part.type === "decimal").value;
}

/** A decimal number, written with a point, with the decimal sign of the reader's language. */
export const figure = (text) => text.replace(".", () => (sign ||= decimalSign()));

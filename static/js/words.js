// Words of the interface in the reader's language; the English text is the key.

const page = document.getElementById("words");
const catalogue = page ? JSON.parse(page.textContent) : {};

/** The text in the reader's language, `{name}` replaced by the value of that name. */
export function t(text, values = {}) {
  const said = catalogue[text] ?? text;
  return said.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? values[name] : whole));
}

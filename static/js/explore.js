// Draws the figures of a page with plotly, in the colours of the style sheet. Without it, or
// when the library does not arrive, the words in place of the chart point to the table.

import { figure, t } from "./words.js";

// Nothing leaves this server: no button that sends the chart away, no address to send it to.
const CONFIG = {
  responsive: true,
  displaylogo: false,
  locale: "reader",
  displayModeBar: true,
  modeBarButtons: [["zoom2d", "pan2d", "zoomIn2d", "zoomOut2d", "resetScale2d"]],
  plotlyServerURL: "",
};
// What the library itself says, and its decimal sign.
const LOCALE = {
  moduleType: "locale",
  name: "reader",
  dictionary: {
    "Zoom": t("Zoom"),
    "Pan": t("Move"),
    "Zoom in": t("Closer"),
    "Zoom out": t("Further away"),
    "Reset axes": t("As at first"),
  },
  format: { decimal: figure("."), thousands: "" },
};
const COLOUR = /^var\((--[\w-]+)(?:, ([\d.]+))?\)$/;

// What a token of the style sheet is inside this element; plotly reads rgb() and rgba().
function colour(inside, token, share) {
  inside.style.color = `var(${token})`;
  const found = getComputedStyle(inside).color;
  inside.style.color = "";
  return share ? found.replace("rgb(", "rgba(").replace(")", `, ${share})`) : found;
}

function themed(value, inside) {
  if (typeof value === "string") {
    const found = COLOUR.exec(value);
    return found ? colour(inside, found[1], found[2]) : value;
  }
  if (Array.isArray(value)) {
    return value.map((one) => themed(one, inside));
  }
  if (value && typeof value === "object") {
    const entries = Object.entries(value);
    return Object.fromEntries(entries.map(([name, one]) => [name, themed(one, inside)]));
  }
  return value;
}

// The library adds style elements while it loads; lend them the nonce of this page.
function lendNonce(nonce) {
  const make = document.createElement.bind(document);
  document.createElement = (...wanted) => {
    const made = make(...wanted);
    if (made.localName === "style") {
      made.nonce = nonce;
    }
    return made;
  };
  return () => delete document.createElement;
}

function load(address) {
  const giveBack = lendNonce(document.getElementById("plotly.js-style-global").nonce);
  return new Promise((resolve, reject) => {
    const script = document.createElement("script");
    script.addEventListener("load", resolve);
    script.addEventListener("error", reject);
    script.src = address;
    document.head.append(script);
  }).finally(giveBack);
}

function draw(canvas, figure) {
  const { data, layout } = themed(figure, canvas);
  layout.font.family = getComputedStyle(canvas).fontFamily;
  // A finger scrolls the page; the tools of the chart zoom.
  layout.dragmode = matchMedia("(pointer: coarse)").matches ? false : "zoom";
  return globalThis.Plotly.react(canvas, data, layout, CONFIG);
}

async function show(source) {
  const plot = source.closest("[data-library]");
  const note = plot.querySelector("p");
  const words = note.textContent;
  const canvas = document.createElement("div");
  canvas.className = "plot-canvas";
  note.textContent = t("Loading the chart");
  try {
    const drawn = JSON.parse(source.textContent);
    await load(plot.dataset.library);
    globalThis.Plotly.register(LOCALE);
    plot.append(canvas);
    await draw(canvas, drawn);
    note.remove();
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => draw(canvas, drawn));
  } catch {
    canvas.remove();
    note.textContent = words;
  }
}

document.querySelectorAll("script[data-figure]").forEach(show);

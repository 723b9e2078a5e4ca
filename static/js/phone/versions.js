// Registers the worker, and has a newer one offered once it waits.

import { risk } from "./pages.js";

/** Offer a worker that waits behind another one, by a script that is fetched when one does. */
async function offer(waiting) {
  if (!waiting || !navigator.serviceWorker.controller) return;
  // When it cannot be fetched the next page offers it.
  await import("./newer.js").then((newer) => newer.offer(waiting), () => {});
}

function watch(registration) {
  offer(registration.waiting);
  registration.addEventListener("updatefound", () => {
    const coming = registration.installing;
    coming?.addEventListener("statechange", () => coming.state === "installed" && offer(coming));
  });
}

/** Register the worker; a phone that cannot have one is told so on its own page. */
export async function register() {
  navigator.serviceWorker.addEventListener("message", ({ data, ports }) => {
    if (data?.ask === "at-risk") ports[0].postMessage(risk.asked());
  });
  try {
    watch(await navigator.serviceWorker.register("/sw.js", { updateViaCache: "none" }));
  } catch (error) {
    if (navigator.onLine) console.warn("no worker:", error.message);
  }
}

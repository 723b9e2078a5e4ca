// The service worker. VERSION and ASSETS stand before this text when it is served.
// It keeps the shell: public files and a page without anything personal. What belongs to a
// person is never in its caches, and /api/ never passes through it.

const CACHE = `windtee-shell-${VERSION}`;
const SHELL = ASSETS[0][0];
const KEPT = new Set(ASSETS.map(([address]) => address));
const PATIENCE = 8000;
const ANSWERS = 4000;

async function keep() {
  const cache = await caches.open(CACHE);
  await Promise.all(
    ASSETS.map(async ([address, integrity]) => {
      const answer = await fetch(address, { integrity, cache: "no-cache" });
      if (!answer.ok) throw new Error(`${address}: ${answer.status}`);
      await cache.put(address, answer);
    }),
  );
}

async function dropOld() {
  const names = await caches.keys();
  const old = names.filter((name) => name.startsWith("windtee-shell-") && name !== CACHE);
  await Promise.all(old.map((name) => caches.delete(name)));
  await self.clients.claim();
}

const kept = async (address) => (await caches.open(CACHE)).match(address);
const late = () => new Promise((_, fail) => setTimeout(fail, PATIENCE, new Error("no answer")));
const offered = /^\/(?:$|phone$|lessons\/)/;
// What a proxy says when nobody stands behind it.
const nobody = (answer) => answer.status === 502 || answer.status === 504;

/** The page from the server; when none comes, the shell, which reads the address itself. */
async function page(event) {
  const { pathname } = new URL(event.request.url);
  const asked = fetch(event.request);
  asked.catch(() => {});
  try {
    // The shell has nothing better to show at other addresses, so those may take their time.
    const answer = await (offered.test(pathname) ? Promise.race([asked, late()]) : asked);
    if (!nobody(answer) && !(answer.status === 404 && (await isOnlyHere(pathname)))) {
      return answer;
    }
  } catch {
    // no network
  }
  return (await kept(SHELL)) ?? Response.error();
}

/** Whether a card that the server does not know yet is on this phone. */
async function isOnlyHere(path) {
  const [, record] = /^\/lessons\/(\w+)(?:\/(?:review|flow))?$/.exec(path) ?? [];
  if (!record) return false;
  return new Promise((tell) => {
    const opening = indexedDB.open("windtee");
    opening.onupgradeneeded = () => opening.transaction.abort();
    opening.onerror = () => tell(false);
    opening.onsuccess = ({ target: { result: db } }) => {
      const stores = ["cards", "drafts"];
      const look = db.transaction(stores);
      const counts = stores.map((name) => look.objectStore(name).index("record").count(record));
      look.oncomplete = () => tell(counts.some((asked) => asked.result > 0));
      look.onabort = () => tell(false);
      db.close();
    };
  });
}

/** A public file: its address names its version, so what is kept under it is right. */
const file = async (event, address) => (await kept(address)) ?? fetch(event.request);

function answer(event) {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== location.origin) return;
  if (address.pathname.startsWith("/api/")) return;
  if (request.mode === "navigate") event.respondWith(page(event));
  else if (KEPT.has(address.pathname)) event.respondWith(file(event, address.pathname));
}

/** Asks one page whether words are on it that are kept nowhere yet; silence is a yes. */
function atRisk(client) {
  return new Promise((tell) => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = ({ data }) => tell(Boolean(data));
    setTimeout(tell, ANSWERS, true);
    client.postMessage({ ask: "at-risk" }, [port2]);
  });
}

/** Takes over from the older version, unless somebody is typing. */
async function takeOver(tell) {
  const pages = await self.clients.matchAll({ type: "window", includeUncontrolled: true });
  const risks = await Promise.all(pages.map(atRisk));
  if (risks.some(Boolean)) {
    tell.postMessage({ waits: true });
    return;
  }
  tell.postMessage({ waits: false });
  await self.skipWaiting();
}

self.addEventListener("install", (event) => event.waitUntil(keep()));
self.addEventListener("activate", (event) => event.waitUntil(dropOld()));
self.addEventListener("fetch", answer);
self.addEventListener("message", (event) => {
  if (event.data === "take-over") event.waitUntil(takeOver(event.ports[0]));
});

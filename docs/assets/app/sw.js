// Keeps the handbook for use without a network, once the reader has asked for it.
//
// The build writes this file to the root of the site with the edition's list of files in place of
// the marked line. Two caches: the runtime, whose addresses name their content and outlive
// editions, and one cache per edition of the site, which serves only when it is complete. Nothing
// outside the list is ever touched. What is handed out is first compared with its hash; a damaged or
// lost file is fetched again, or the reader is told.

/** @type {{build: string, site: any[], runtime: any[]}} */
const EDITION = { build: "", site: [], runtime: [] }; // written by the build

const worker = /** @type {any} */ (self); // a ServiceWorkerGlobalScope
const SCOPE = worker.registration.scope;
const RUNTIME = `${SCOPE} runtime`;
const SITE = `${SCOPE} site `;
const COMPLETE = new URL("kept.json", SCOPE).href;
const DAMAGED = new URL("damaged", SCOPE).href; // marks an edition with a file that is lost
const at = (url) => new URL(url, SCOPE).href;
const siteRows = new Map(EDITION.site.map((row) => [at(row.url), row]));
const runtimeRows = new Map(EDITION.runtime.map((row) => [at(row.url), row]));
// Spare files are for browsers that cannot use the start image; such a one keeps what it fetches.
const needed = EDITION.runtime.filter(({ spare }) => !spare);
const isArchive = (row) => row.url.endsWith(".zip");
const isCode = (row) => row.url.endsWith(".wasm");

const siteNames = async () => (await caches.keys()).filter((name) => name.startsWith(SITE));
const isComplete = async (name) => Boolean(await (await caches.open(name)).match(COMPLETE));

// The edition this device keeps, or null: this worker's own before an earlier one, because a page
// in use must not change editions under the reader's hands.
/** @type {Promise<string | null> | null} */
let known = null;

function keptEdition() {
  known ??= (async () => {
    const own = SITE + EDITION.build;
    for (const name of [own, ...(await siteNames())]) {
      if ((await caches.has(name)) && (await isComplete(name))) return name;
    }
    return null;
  })();
  return known;
}

worker.addEventListener("install", (event) => {
  // A device that keeps the handbook fetches the new edition now and switches when the reader
  // says so; the old one stays whole meanwhile. A device that does not keep it fetches nothing.
  event.waitUntil(
    (async () => {
      const name = await keptEdition();
      if (!name || name === SITE + EDITION.build) return;
      await keep(() => {});
      // Of a damaged edition a page may not even be able to offer the new one.
      if (await (await caches.open(name)).match(DAMAGED)) worker.skipWaiting();
    })(),
  );
});

worker.addEventListener("activate", (event) => {
  event.waitUntil(
    (async () => {
      const current = SITE + EDITION.build;
      if (await isComplete(current)) await tidy();
      else if (!(await keptEdition())) await caches.delete(current);
      await worker.clients.claim();
    })(),
  );
});

// Drop earlier editions and runtime files that this edition does not use.
async function tidy() {
  known = null;
  for (const name of await siteNames()) {
    if (name !== SITE + EDITION.build) await caches.delete(name);
  }
  const cache = await caches.open(RUNTIME);
  for (const request of await cache.keys()) {
    if (!runtimeRows.has(request.url)) await cache.delete(request);
  }
}

async function hash(content) {
  const digest = await crypto.subtle.digest("SHA-256", content);
  return [...new Uint8Array(digest)].map((b) => b.toString(16).padStart(2, "0")).join("");
}

// Whether a cache holds the file as it should be.
async function isWhole(cache, url, row) {
  const stored = await cache.match(url);
  return Boolean(stored) && (await hash(await stored.arrayBuffer())) === row.sha256;
}

// The file from the network with its bytes counted and its hash checked, ready to be stored.
/** @param {string} url @param {any} row @param {(bytes: number) => void} count @param {RequestCache} cache */
async function fetched(url, row, count, cache = "default") {
  // Past the browser's own cache: what is kept here need not be stored twice. Except WebAssembly,
  // whose compiled form lies there.
  /** @type {RequestInit} */
  const options = { cache: isCode(row) ? cache : "no-store" };
  let response = await fetch(url, options);
  let whole = row.bytes;
  let inflate = false;
  if (isArchive(row) && !response.headers.get("content-encoding") && self.DecompressionStream) {
    // This host does not compress archives: take the twin that is compressed already.
    const twin = await fetch(`${url}.gz`, options);
    if (twin.ok) {
      response.body?.cancel().catch(() => {});
      response = twin;
      whole = row.gzip;
      inflate = true;
    }
  }
  if (!response.ok) throw new Error(`${row.url} answered ${response.status}`);
  const stored = response.clone();
  let seen = 0;
  let body = response.body.pipeThrough(
    new TransformStream({
      transform(chunk, controller) {
        seen += chunk.byteLength;
        count(row.travels * Math.min(1, seen / whole));
        controller.enqueue(chunk);
      },
    }),
  );
  if (inflate) body = body.pipeThrough(new DecompressionStream("gzip"));
  const content = await new Response(body).arrayBuffer();
  if ((await hash(content)) !== row.sha256) {
    if (isCode(row) && cache === "default") return fetched(url, row, count, "reload");
    throw new Error(`${row.url} arrived damaged`);
  }
  count(row.travels);
  // Scripts and WebAssembly stay exactly as they came: engines keep compiled code only for those.
  if (!isArchive(row)) return stored;
  stored.body?.cancel().catch(() => {});
  return new Response(content, {
    headers: { "content-type": "application/zip", "x-kept": "1" },
  });
}

// Fill both caches; files already there are not fetched again, so that an interrupted download
// goes on where it stopped. `tell(loaded, total)` is called with progress.
async function keep(tell) {
  const runtime = await caches.open(RUNTIME);
  const site = await caches.open(SITE + EDITION.build);
  const earlier = await keptEdition();
  const former = earlier && earlier !== SITE + EDITION.build ? await caches.open(earlier) : null;
  const formerRows = former
    ? new Map((await (await former.match(COMPLETE)).json()).site.map((row) => [row.url, row]))
    : new Map();
  const loaded = new Map();
  const rows = [
    ...needed.map((row) => [row, runtime]),
    ...EDITION.site.map((row) => [row, site]),
  ];
  const total = rows.reduce((sum, [row]) => sum + row.travels, 0);
  const count = (row, bytes) => {
    loaded.set(row.url, bytes);
    let sum = 0;
    for (const part of loaded.values()) sum += part;
    tell(sum, total);
  };
  const waiting = [...rows];
  const next = async () => {
    for (let entry = waiting.shift(); entry; entry = waiting.shift()) {
      const [row, cache] = entry;
      const url = at(row.url);
      if (!(await isWhole(cache, url, row))) {
        const same =
          formerRows.get(row.url)?.sha256 === row.sha256 &&
          (await isWhole(former, url, row)) &&
          (await former.match(url));
        await cache.put(url, same || (await fetched(url, row, (bytes) => count(row, bytes))));
      }
      count(row, row.travels);
    }
  };
  // After a failure nothing new is begun, but what is on its way may still arrive and be kept.
  const stop = (error) => {
    waiting.length = 0;
    throw error;
  };
  const lanes = await Promise.allSettled([1, 2, 3, 4].map(() => next().catch(stop)));
  const failed = lanes.find((lane) => lane.status === "rejected");
  if (failed) throw failed.reason;
  await site.put(COMPLETE, new Response(JSON.stringify({ ...EDITION, bytes: total })));
  known = null;
  return total;
}

async function keptStatus() {
  const name = await keptEdition();
  const total = [...needed, ...EDITION.site].reduce((sum, row) => sum + row.travels, 0);
  let have = 0;
  for (const row of needed) {
    if (await caches.match(at(row.url), { cacheName: RUNTIME })) have += row.travels;
  }
  return {
    type: "status",
    kept: name === null ? null : name.slice(SITE.length),
    build: EDITION.build,
    total,
    have,
  };
}

let running = null;

async function keepFor(port) {
  let last = 0;
  const tell = (loaded, total) => {
    const now = performance.now();
    if (now - last < 100 && loaded < total) return;
    last = now;
    port.postMessage({ type: "progress", loaded, total });
  };
  try {
    running ??= keep(tell);
    const total = await running;
    await tidy();
    port.postMessage({ type: "kept", total });
  } catch (error) {
    const full = error?.name === "QuotaExceededError";
    // What arrived is kept for the next try; where there is no room it would only be in the way.
    if (full) await removeIncomplete();
    port.postMessage({ type: "failed", full, message: String(error?.message ?? error) });
  } finally {
    running = null;
  }
}

async function removeIncomplete() {
  const kept = await keptEdition();
  if (kept !== SITE + EDITION.build) await caches.delete(SITE + EDITION.build);
  if (!kept) await caches.delete(RUNTIME);
}

async function remove() {
  known = Promise.resolve(null); // what is asked for meanwhile comes from the network
  await caches.delete(RUNTIME);
  for (const name of await siteNames()) await caches.delete(name);
  known = null;
}

worker.addEventListener("message", (event) => {
  const port = event.ports[0];
  const actions = {
    keep: () => keepFor(port),
    status: async () => port.postMessage(await keptStatus()),
    remove: async () => {
      await remove();
      port.postMessage({ type: "removed" });
    },
    // Only ever sent after the reader chose to reload.
    activate: () => worker.skipWaiting(),
  };
  const action = actions[event.data?.type];
  if (action) event.waitUntil(action());
});

worker.addEventListener("fetch", (event) => {
  const { request } = event;
  // What the browser has in its own cache comes from there, with the code compiled from it.
  if (request.method !== "GET" || request.cache === "only-if-cached") return;
  const url = new URL(request.url);
  if (!url.href.startsWith(SCOPE)) return;
  url.search = "";
  url.hash = "";
  if (runtimeRows.has(url.href) || url.pathname.includes("/rt/")) {
    event.respondWith(fromRuntime(request, url.href));
  } else {
    event.respondWith(fromSite(request, url.href));
  }
});

async function fromRuntime(request, url) {
  // The list of runtime files belongs to the edition.
  const row = runtimeRows.get(url);
  if (!row) return fromSite(request, url);
  const fresh = request.cache === "reload" || request.url.endsWith("?fresh");
  // Looked up by name, because opening a cache would make it.
  const look = () => caches.match(url, { cacheName: RUNTIME });
  const stored = await look();
  if (stored && !fresh && (await hash(await stored.arrayBuffer())) === row.sha256) {
    // Another copy than the one that was read: engines keep compiled code only beside such a one.
    return look();
  }
  // A device that keeps the handbook has every file, and a spare one once it has needed it.
  const kept = await keptEdition();
  if (!stored && !kept) return fetch(request);
  // A copy that is suspect or lost is replaced by a verified one.
  try {
    const renewed = await fetched(url, row, () => {}, "reload");
    await (await caches.open(RUNTIME)).put(url, renewed.clone());
    return renewed;
  } catch (error) {
    if (fresh || (!stored && row.spare)) throw error;
    return lost(request, row);
  }
}

async function fromSite(request, url) {
  const name = await keptEdition();
  if (!name) return fetch(request);
  const cache = await caches.open(name);
  const page = request.mode === "navigate" && !url.endsWith("/") && !/\.\w+$/.test(url);
  const rows = await rowsOf(name, cache);
  for (const place of page ? [url, `${url}/`] : [url]) {
    const row = rows.get(place);
    if (row && !(await isWhole(cache, place, row))) {
      if (await isComplete(name)) return renewed(request, cache, place, row);
      // The browser has removed the whole edition.
      known = null;
      return fetch(request);
    }
    const stored = await cache.match(place);
    if (stored) return stored;
  }
  try {
    return await fetch(request);
  } catch (error) {
    const missing = request.mode === "navigate" && (await cache.match(at("404.html")));
    if (missing) return missing;
    throw error;
  }
}

// What an edition's files are to be, by address.
async function rowsOf(name, cache) {
  if (name === SITE + EDITION.build) return siteRows;
  try {
    const { site } = await (await cache.match(COMPLETE)).json();
    return new Map(site.map((row) => [at(row.url), row]));
  } catch {
    return new Map();
  }
}

// A kept file of the site that is damaged or lost: the same from the network, where it still has it.
async function renewed(request, cache, url, row) {
  try {
    const whole = await fetched(url, row, () => {});
    await cache.put(url, whole.clone());
    await cache.delete(DAMAGED);
    return whole;
  } catch {
    // No network, or a newer edition there. That one takes over as soon as it is here.
    await cache.put(DAMAGED, new Response());
    const { waiting } = worker.registration;
    if (waiting) waiting.postMessage({ type: "activate" });
    else worker.registration.update().catch(() => {});
    return lost(request, row);
  }
}

// Says that a kept file is damaged and what helps, without any other file of the site.
function lost(request, row) {
  const said = `${row.url} is damaged on this device`;
  const headers = { "content-type": "text/html;charset=utf-8", "x-damaged": "1" };
  const html =
    "<!doctype html><html lang=en><title>Damaged page</title>" +
    "<meta name=viewport content='width=device-width'><h1>This page is damaged on this device</h1>" +
    "<p>Connect to the network, then reload the page: it is fetched again. " +
    "If that does not help, close all pages of the handbook and open it once more.</p>";
  return new Response(request.mode === "navigate" ? html : said, { status: 503, headers });
}

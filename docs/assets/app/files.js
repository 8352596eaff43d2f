// The runtime's files: taken from what this device keeps or from the network, counted as they come,
// and checked against the sha256 that rt/runtime.json states for each.

/**
 * A row of rt/runtime.json: a file of the runtime.
 * @typedef {{url: string, bytes: number, sha256: string, gzip: number | null, travels: number,
 *            spare: boolean}} Row
 * @typedef {{files: Row[], lazy?: Row[], version: string, memory: number, missing?: string}} Manifest
 */

export const BASE = new URL("../../", import.meta.url);
// A restart after a failure asks for fresh files, in case a stored one is damaged.
export const FRESH = self.name === "fresh";
export const plainFetch = self.fetch.bind(self);

/** Addresses by file name. @type {Record<string, string>} */
export const address = {};
/** @type {Map<string, Row>} */
const rows = new Map();
/** Bytes that have come, by the row's url. @type {Map<string, number>} */
const received = new Map();
let total = 0;
let reported = 0;
/** @type {(loaded: number, total: number) => void} */
let listener = () => {};

/** @param {typeof listener} hear called as bytes come */
export function onBytes(hear) {
  listener = hear;
}

export function report(force = false) {
  const now = performance.now();
  if (!force && now - reported < 80) return;
  reported = now;
  let loaded = 0;
  for (const count of received.values()) loaded += count;
  listener(Math.round(Math.min(loaded, total)), total);
}

/** Make a file known. @param {Row} row @returns {string} its address */
export function expect(row) {
  const url = new URL(row.url, BASE).href;
  rows.set(url, row);
  address[row.url.split("/").pop() ?? ""] = url;
  return url;
}

/** From now on this file is waited for. @param {Row} row */
export function count(row) {
  received.set(row.url, 0);
  total += row.travels;
}

/** It is not waited for any more. @param {string} url */
export function forget(url) {
  const row = rowOf(url);
  if (received.delete(row.url)) total -= row.travels;
}

/** Bytes of a file that are here, and of the whole, as it travels. @param {string} url */
export function arrived(url) {
  const row = rowOf(url);
  return { here: received.get(row.url) ?? 0, whole: row.travels };
}

/** @param {string} url */
export const isKnown = (url) => rows.has(url);

/** @param {string} url @returns {Row} */
function rowOf(url) {
  const row = rows.get(url);
  if (!row) throw new Error(`${url} is not a file of the runtime`);
  return row;
}

export class Damaged extends Error {}

/** @param {ArrayBuffer | Uint8Array<ArrayBuffer>} content @param {Row} row */
async function check(content, row) {
  const wrong = () => new Damaged(`${row.url} is damaged`);
  if (content.byteLength !== row.bytes) throw wrong();
  // Browsers compute it on pages from https and from the same machine; elsewhere the size must do.
  if (!self.crypto?.subtle) return;
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", content));
  const text = [...digest].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  if (text !== row.sha256) throw wrong();
}

// Count a body as it arrives, without touching it.
/** @param {ReadableStream<Uint8Array>} body @param {Row} row @param {number} expected */
function counted(body, row, expected) {
  let seen = 0;
  return body.pipeThrough(
    new TransformStream({
      transform(chunk, controller) {
        seen += chunk.byteLength;
        received.set(row.url, row.travels * Math.min(1, seen / expected));
        report();
        controller.enqueue(chunk);
      },
      flush() {
        received.set(row.url, row.travels);
        report(true);
      },
    }),
  );
}

/** Whether this browser has a file in its own cache, as it is or gzipped. @param {string} url */
export async function isCached(url) {
  for (const each of [url, `${url}.gz`]) {
    const found = await plainFetch(each, { cache: "only-if-cached", mode: "same-origin" }).catch(() => null);
    found?.body?.cancel().catch(() => {});
    if (found?.ok) return true;
  }
  return false;
}

/** @param {string} url @param {boolean} fresh @param {AbortSignal} [signal] */
async function load(url, fresh, signal) {
  // What is kept is taken without the service worker's help, which would hand it on piece by piece.
  const kept = fresh ? null : await self.caches?.match(url).catch(() => null);
  const response = kept ?? (await plainFetch(url, { signal, ...(fresh ? { cache: "reload" } : {}) }));
  if (!response.ok) throw await refused(response, rowOf(url).url);
  return response;
}

/** @param {Response} response @param {string} name */
async function refused(response, name) {
  // The service worker found a kept file damaged and could not renew it: its words say what to do.
  if (response.headers.get("x-damaged")) return new Damaged(await response.text());
  return new Error(`${name} answered ${response.status}`);
}

/** @param {string} url @param {boolean} fresh @param {AbortSignal} [signal] */
async function read(url, fresh, signal) {
  const row = rowOf(url);
  const response = await load(url, fresh, signal);
  const { headers } = response;
  let body = response.body;
  let expected = row.bytes;
  let inflate = false;
  // A host that compresses says so. Where one does not, take the gzipped twin and inflate it here,
  // unless the file came from this device anyway.
  const zipped = row.gzip !== null && row.url.endsWith(".zip");
  if (zipped && !headers.get("content-encoding") && !headers.get("x-kept") && self.DecompressionStream) {
    const twin = await plainFetch(`${url}.gz`, { signal, ...(fresh ? { cache: "reload" } : {}) });
    if (twin.ok) {
      body?.cancel().catch(() => {});
      body = twin.body;
      expected = row.gzip ?? expected;
      inflate = true;
    }
  }
  let content;
  if (headers.get("x-kept") || !body) {
    // From this device it comes at once: counting would only slow it down.
    received.set(row.url, row.travels);
    content = await response.arrayBuffer();
  } else {
    const counting = counted(body, row, expected);
    const whole = inflate ? counting.pipeThrough(new DecompressionStream("gzip")) : counting;
    content = await new Response(whole).arrayBuffer();
  }
  await check(content, row);
  return new Uint8Array(content);
}

/**
 * The file's content; a damaged one is fetched anew, once.
 * @param {string} url
 * @param {AbortSignal} [signal]
 */
export async function bytes(url, signal) {
  try {
    return await read(url, FRESH, signal);
  } catch (error) {
    if (FRESH || !(error instanceof Damaged)) throw error;
    console.warn(`${error.message}; fetching it again.`);
    return read(url, true, signal).catch(() => {
      throw error;
    });
  }
}

/** Checks under way of files that are in use already. @type {Promise<void>[]} */
const checks = [];

/** Wait until everything that was handed out is known to be whole. */
export const allChecked = () => Promise.all(checks);

/** @param {Promise<ArrayBuffer>} content @param {Row} row */
function checkLater(content, row) {
  const checked = content.then((whole) => check(whole, row));
  checked.catch(() => {});
  checks.push(checked);
}

/** What `fetch` compares a body with. @param {Row} row */
function integrity({ sha256 }) {
  const digest = (sha256.match(/../g) ?? []).map((byte) => parseInt(byte, 16));
  return `sha256-${btoa(String.fromCharCode(...digest))}`;
}

let fromBrowser = true;
/** Whether all code came out of the browser's own cache. */
export const allFromBrowser = () => fromBrowser;

// A file of WebAssembly, from the browser's own cache where it lies there: engines keep compiled
// code beside that, but not beside what a service worker hands out. They do so for the response
// exactly as it came: from that cache the browser compares the hash itself, and over the network,
// where code is compiled while it comes, progress and check take a copy.
/** @param {string} url @returns {Promise<WebAssembly.Module>} */
export async function compiled(url) {
  const row = rowOf(url);
  /** @type {RequestInit} */
  const whole = { cache: "only-if-cached", mode: "same-origin", integrity: integrity(row) };
  const found = FRESH ? null : await plainFetch(url, whole).catch(() => null);
  if (found?.ok) {
    received.set(row.url, row.travels);
    return WebAssembly.compileStreaming(found);
  }
  fromBrowser = false;
  const compile = async (/** @type {boolean} */ fresh) => {
    const response = await load(url, fresh);
    const { body } = response.clone();
    if (!body) throw new Error(`${row.url} came without content`);
    const copy = new Response(counted(body, row, row.bytes)).arrayBuffer();
    copy.catch(() => {});
    const module = await WebAssembly.compileStreaming(response);
    checkLater(copy, row);
    return module;
  };
  return compile(FRESH).catch((error) => {
    if (FRESH || !(error instanceof WebAssembly.CompileError)) throw error;
    console.warn(`${row.url} is damaged; fetching it again.`);
    return compile(true).catch(() => {
      throw new Damaged(`${row.url} is damaged`);
    });
  });
}

/** Import a script of the runtime. @param {string} url */
export async function script(url) {
  const row = rowOf(url);
  if (FRESH) await plainFetch(url, { cache: "reload" });
  const place = FRESH ? `${url}?fresh` : url;
  const module = await import(place).catch(async (error) => {
    // An import does not say why it failed.
    const answered = await plainFetch(place).catch(() => null);
    throw answered && !answered.ok ? await refused(answered, row.url) : error;
  });
  // The same bytes once more, from the browser's cache: an import does not show them.
  checkLater(plainFetch(place, { cache: "force-cache" }).then((whole) => whole.arrayBuffer()), row);
  return module;
}

/** @returns {Promise<Manifest>} */
export async function manifest() {
  const url = new URL("rt/runtime.json", BASE);
  const read = async (/** @type {RequestCache} */ cache) => {
    const response = await plainFetch(url, { cache });
    if (!response.ok) throw await refused(response, "rt/runtime.json");
    return response.json();
  };
  // What is no JSON may be a damaged copy in the browser's cache.
  const content = await read(FRESH ? "reload" : "no-cache").catch((error) => {
    if (error instanceof SyntaxError) return read("reload");
    throw error;
  });
  if (content.missing) throw Object.assign(new Error(content.missing), { stage: "missing" });
  return content;
}

// The one worker behind every calculator of a page: loads Python, then answers.
//
// Page -> worker: {id, type: "answer", slug, inputs: {name: text}}
//                 {id, type: "glance", slug, inputs}          the verdict alone
//                 {id, type: "convert", slug, name, text, unit}
//                 {id, type: "download", slug, name, make, inputs}     a file; name = make
//                 {id, type: "tone", slug, name, samples, rate, support}
//                 {id, type: "outline", slug, name, make, text, unit, inputs}
//                   a drawing: its file's name, content in base64, the system of units, choices
//                 {id, type: "portrait", slug, name, inputs}  picture and verdict of a rocket
//                 {id, type: "rockets", slug, name, make, text}        a file of rockets, or a link
// Worker -> page: {type: "progress", stage, loaded, total}    bytes as they come over the network
//                 {type: "live", version, milliseconds}       ready
//                 {type: "busy", id, done, total, note}       a long answer on its way
//                 {type: "early", id, result}                 the verdict, ahead of its answer
//                 {id, type: (that of the question), result}
//                 {id, type: "dropped"}                       a newer request took its place
//                 {id, type: "failed", stage: "answer", message}
//                 {type: "failed", stage, message}            Python did not start
//
// Everything that crosses is plain text or a plain object. Stopping is the page's business: it
// ends this worker and starts another.

// Pyodide 0.27.1 to 0.27.7 takes a code path that crashes Safari on iPadOS 18, unless the platform
// says "iPad"; but tablets say "MacIntel", and a worker has no maxTouchPoints to tell them from a
// Mac. So everyone is an iPad here. Costs nothing measurable and makes all engines behave alike.
Object.defineProperty(navigator, "platform", { get: () => "iPad", configurable: true });

import { unpack } from "./archive.js";
import { boot } from "./boot.js";
import { Damaged, bytes, onBytes, report } from "./files.js";
import { practise } from "./practise.js";

/**
 * @typedef {{id: number, type: "answer" | "convert" | "download" | "tone" | "glance" | "portrait" | "outline" | "rockets", slug: string,
 *            name: string, make: string, text: string, unit: string, rate: number,
 *            support: string, samples: number[], inputs: Record<string, string>}} Request
 */

const began = performance.now();
let stage = "start";
let asked = 0; // when the last question came, or its answer left
/** @type {import("./boot.js").Running | null} */
let running = null;
/** @type {Map<string, Request>} */
const waiting = new Map();

/** @param {Pick<Request, "type" | "slug" | "name">} request */
const keyOf = ({ type, slug, name }) => `${type} ${slug} ${name ?? ""}`;

/** @param {string} key */
function drop(key) {
  const older = waiting.get(key);
  if (!older) return;
  waiting.delete(key);
  postMessage({ id: older.id, type: "dropped" });
}

self.addEventListener("message", (/** @type {MessageEvent<Request>} */ { data }) => {
  asked = performance.now();
  // One request of each kind and calculator waits at a time: a newer one makes the older pointless,
  // and an answer makes a glance pointless.
  const key = keyOf(data);
  drop(key);
  if (data.type === "answer") drop(keyOf({ ...data, type: "glance" }));
  waiting.set(key, data);
  if (running) schedule();
});

// Answers run in their own turn of the event loop, so that newer messages are seen in between.
const turn = new MessageChannel();
turn.port1.onmessage = () => next(false);

// The bar's picture of the rocket waits until nothing else was asked for a moment: while a hand moves
// the fin, a verdict is asked for many times a second, and the picture would stop them all.
const PAUSE = 100; // ms
/** @param {boolean} quiet */
function next(quiet) {
  const all = [...waiting];
  const [key, request] = all.find(([, { type }]) => type !== "portrait") ?? all[0] ?? [];
  if (!key || !request) return;
  if (request.type === "portrait" && !quiet) {
    setTimeout(() => next(performance.now() - asked > PAUSE), PAUSE);
    return;
  }
  waiting.delete(key);
  serve(request);
  asked = performance.now(); // what came meanwhile has not been seen yet
  if (waiting.size) schedule();
}
const schedule = () => turn.port2.postMessage(null);

/** Number of the question that Python is answering at this very moment. @type {number | null} */
let current = null;
/** Number of the question that waits for a library. @type {number | null} */
let awaited = null;

/** @type {Record<string, (browser: any, request: Request) => unknown>} */
const served = {
  answer: (browser, { slug, inputs }) => JSON.parse(browser.answer(slug, JSON.stringify(inputs))),
  glance: (browser, { slug, inputs }) => JSON.parse(browser.glance(slug, JSON.stringify(inputs))),
  convert: (browser, { slug, name, text, unit }) => browser.convert(slug, name, text, unit),
  download: (browser, { slug, inputs, make }) =>
    JSON.parse(browser.download(slug, JSON.stringify(inputs), make)),
  tone: (browser, { samples, rate, support }) =>
    JSON.parse(browser.tone(JSON.stringify(samples), rate, support)),
  outline: (browser, { make, text, unit, inputs }) =>
    JSON.parse(browser.outline_file(make, text, JSON.stringify(inputs), unit)),
  portrait: (browser, { inputs }) => JSON.parse(browser.portrait(JSON.stringify(inputs))),
  rockets: (browser, { make, text }) => JSON.parse(browser.rockets(make, text)),
};
// Files that Python writes or reads with libraries fetched only then.
/** @param {Request} request */
const needsLibrary = ({ type, make }) =>
  type === "outline" || (type === "download" && /^(pdf|dxf)/.test(make));
const MISSING = /ModuleNotFoundError|ImportError|FileNotFoundError/;

/** @param {Request} request */
async function serve(request) {
  try {
    if (needsLibrary(request)) await library(request.id);
    postMessage({ id: request.id, type: request.type, result: compute(request) });
  } catch (error) {
    const said = String(error instanceof Error ? error.message : error);
    const fetchParts = running?.fetchParts;
    if (running && fetchParts && MISSING.test(said)) {
      const found = await fetchParts().then(() => true, () => false);
      if (found) {
        running.fetchParts = null;
        return serve(request);
      }
    }
    // Python's last line says what; the trace is for the console.
    console.error(error);
    const message = said.trim().split("\n").pop();
    postMessage({ id: request.id, type: "failed", stage: "answer", message });
  }
}

// What Python reports while it computes belongs to this question, and to no other that waits for a
// file meanwhile.
/** @param {Request} request */
function compute(request) {
  current = request.id;
  try {
    return served[request.type](running?.browser, request);
  } finally {
    current = null;
  }
}

/** @type {Promise<void> | null} */
let fetched = null;

// The libraries behind PDF, DXF and SVG files, once. A failure is forgotten, so that it can be tried again.
/** @param {number} id */
function library(id) {
  fetched ??= (async () => {
    const url = running?.lazy.find((each) => each.endsWith("/library.zip"));
    if (!running || !url) throw new Error("This copy of the handbook was built without the parts for PDF and DXF files.");
    awaited = id;
    try {
      unpack(running.python.FS, await bytes(url));
      running.browser.files_arrived();
    } catch (error) {
      if (navigator.onLine || error instanceof Damaged) throw error;
      throw new Error("Making PDF and DXF files and reading drawings need the network the first time. Making SVG does not.");
    } finally {
      awaited = null;
    }
  })();
  fetched.catch(() => {
    fetched = null;
  });
  return fetched;
}

onBytes((loaded, total) => {
  // Python runs already: a sign of life for whoever waits for the file.
  if (running) postMessage({ type: "busy", id: awaited, done: 0, total: 0, note: "" });
  else postMessage({ type: "progress", stage, loaded, total });
});

async function begin() {
  const started = await boot((reached) => {
    stage = reached;
    report(true);
  });
  const { python, browser, version, revived } = started;
  browser.set_progress((/** @type {number} */ done, /** @type {number} */ total, /** @type {any} */ note) => {
    if (current === null) return; // nobody waits
    postMessage({ type: "busy", id: current, done, total, note: String(note ?? "") });
  });
  browser.set_early((/** @type {string} */ text) => {
    if (current !== null) postMessage({ type: "early", id: current, result: JSON.parse(text) });
  });
  running = started;
  // For the test that holds the tablet trap shut: 0 means the crashing path is off.
  const trap = python._module._PyEM_CountArgsPtr;
  const milliseconds = performance.now() - began;
  postMessage({ type: "live", version, milliseconds, trap, image: revived });
  if (waiting.size) schedule();
  practise(browser, () => asked).catch((error) => console.warn(error));
}

begin().catch((error) => {
  console.error(error);
  const said = String(error?.message ?? error).trim().split("\n").pop();
  const advice = error instanceof Damaged ? ". Connect to the network and try again" : "";
  postMessage({ type: "failed", stage: error?.stage ?? stage, message: `${said}${advice}` });
});

// The one worker behind every calculator of a page: loads Python, then answers.
//
// Page -> worker: {id, type: "answer", slug, inputs: {name: text}}
//                 {id, type: "convert", slug, name, text, unit}
//                 {id, type: "download", slug, name, make, inputs}     a file; name = make
//                 {id, type: "tone", slug, name, samples, rate, support}
// Worker -> page: {type: "progress", stage, loaded, total}    bytes as they come over the network
//                 {type: "live", version, milliseconds}       ready
//                 {type: "image"}                             asked for by the worker's name
//                 {type: "busy", id, done, total, note}       a long answer on its way
//                 {id, type: "answer" | "convert" | "download" | "tone", result}
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

const BASE = new URL("../../", import.meta.url);
const SITE_PACKAGES = "/lib/python3.12/site-packages";
// A restart after a failure asks for fresh files, in case a stored one is damaged.
const FRESH = self.name === "fresh";
const began = performance.now();

let stage = "start";
let python;
let browser;
const waiting = new Map();

self.addEventListener("message", ({ data }) => {
  // One request of each kind and calculator waits at a time: a newer one makes the older pointless.
  const key = `${data.type} ${data.slug} ${data.name ?? ""}`;
  const older = waiting.get(key);
  if (older) postMessage({ id: older.id, type: "dropped" });
  waiting.set(key, data);
  if (python) schedule();
});

// Answers run in their own turn of the event loop, so that newer messages are seen in between.
const turn = new MessageChannel();
turn.port1.onmessage = () => {
  const [key, request] = waiting.entries().next().value ?? [];
  if (!request) return;
  waiting.delete(key);
  serve(request);
  if (waiting.size) schedule();
};
const schedule = () => turn.port2.postMessage(null);

let current = null;

const served = {
  answer: ({ slug, inputs }) => JSON.parse(browser.answer(slug, JSON.stringify(inputs))),
  convert: ({ slug, name, text, unit }) => browser.convert(slug, name, text, unit),
  download: ({ slug, inputs, make }) =>
    JSON.parse(browser.download(slug, JSON.stringify(inputs), make)),
  tone: ({ samples, rate, support }) =>
    JSON.parse(browser.tone(JSON.stringify(samples), rate, support)),
};
// Files that Python writes with libraries fetched only then.
const NEEDS_LIBRARY = /^(pdf|dxf)/;

async function serve(request) {
  try {
    if (request.type === "download" && NEEDS_LIBRARY.test(request.make)) await library(request.id);
    current = request.id;
    const result = served[request.type](request);
    postMessage({ id: request.id, type: request.type, result });
  } catch (error) {
    // Python's last line says what; the trace is for the console.
    console.error(error);
    const line = String(error?.message ?? error).trim().split("\n").pop();
    postMessage({ id: request.id, type: "failed", stage: "answer", message: line });
  }
  current = null;
}

let later = [];
let fetched = null;

// The libraries behind PDF and DXF, once. A failure is forgotten, so that it can be tried again.
function library(id) {
  fetched ??= (async () => {
    const row = later.find(({ url }) => url.endsWith("/library.zip"));
    if (!row) throw new Error("This copy of the handbook was built without PDF and DXF.");
    const url = new URL(row.url, BASE).href;
    rows.set(url, row);
    current = id;
    try {
      unpack(python.FS, await bytes(url));
    } catch (error) {
      if (navigator.onLine) throw error;
      throw new Error("PDF and DXF need the network the first time. The SVG drawing does not.");
    }
  })();
  fetched.catch(() => {
    fetched = null;
  });
  return fetched;
}

const rows = new Map();
const received = new Map();
let total = 0;
let lastReport = 0;

function report(force = false) {
  const now = performance.now();
  if (!force && now - lastReport < 80) return;
  lastReport = now;
  // Python runs already: a sign of life for whoever waits for the file.
  if (python) {
    postMessage({ type: "busy", id: current, done: 0, total: 0, note: "" });
    return;
  }
  let loaded = 0;
  for (const bytes of received.values()) loaded += bytes;
  postMessage({ type: "progress", stage, loaded: Math.round(Math.min(loaded, total)), total });
}

// What travels, roughly: the gzipped size where there is one.
const weight = (row) => row.gzip ?? row.bytes;

// Count a body as it arrives, without touching it.
function counted(body, row, expected) {
  let seen = 0;
  return body.pipeThrough(
    new TransformStream({
      transform(chunk, controller) {
        seen += chunk.byteLength;
        received.set(row.url, weight(row) * Math.min(1, seen / expected));
        report();
        controller.enqueue(chunk);
      },
      flush() {
        received.set(row.url, weight(row));
        report(true);
      },
    }),
  );
}

const plainFetch = self.fetch.bind(self);

async function load(address) {
  const row = rows.get(address);
  const options = FRESH ? { cache: "reload" } : {};
  const response = await plainFetch(address, options);
  if (!response.ok) throw new Error(`${row.url} answered ${response.status}`);
  return { row, response };
}

async function bytes(address) {
  const { row, response } = await load(address);
  // A host that compresses says so. Where one does not, take the gzipped twin and inflate it here,
  // unless the file came from this device anyway.
  if (
    !response.headers.get("content-encoding") &&
    !response.headers.get("x-kept") &&
    self.DecompressionStream
  ) {
    const twin = await plainFetch(`${address}.gz`, FRESH ? { cache: "reload" } : {});
    if (twin.ok) {
      response.body.cancel().catch(() => {});
      const body = counted(twin.body, row, row.gzip).pipeThrough(new DecompressionStream("gzip"));
      const inflated = new Uint8Array(await new Response(body).arrayBuffer());
      return checked(inflated, row);
    }
  }
  // From this device it comes at once: counting would only slow it down.
  if (response.headers.get("x-kept")) {
    received.set(row.url, weight(row));
    return checked(new Uint8Array(await response.arrayBuffer()), row);
  }
  const body = counted(response.body, row, row.bytes);
  return checked(new Uint8Array(await new Response(body).arrayBuffer()), row);
}

function checked(content, row) {
  if (content.byteLength !== row.bytes) {
    throw new Error(`${row.url} is damaged: ${content.byteLength} of ${row.bytes} bytes`);
  }
  return content;
}

// The files of a zip archive whose entries are stored, as views into it.
function* entries(archive) {
  const view = new DataView(archive.buffer, archive.byteOffset, archive.byteLength);
  const decoder = new TextDecoder();
  let end = archive.byteLength - 22;
  if (end < 0 || view.getUint32(end, true) !== 0x06054b50) throw new Error("not a zip archive");
  let count = view.getUint16(end + 10, true);
  let at = view.getUint32(end + 16, true);
  for (; count > 0; count -= 1) {
    const method = view.getUint16(at + 10, true);
    const size = view.getUint32(at + 24, true);
    const nameLength = view.getUint16(at + 28, true);
    const skipped = view.getUint16(at + 30, true) + view.getUint16(at + 32, true);
    const local = view.getUint32(at + 42, true);
    if (method !== 0) throw new Error("a compressed entry");
    const name = decoder.decode(archive.subarray(at + 46, at + 46 + nameLength));
    const start =
      local + 30 + view.getUint16(local + 26, true) + view.getUint16(local + 28, true);
    yield [name, archive.subarray(start, start + size)];
    at += 46 + nameLength + skipped;
  }
}

// Put an archive's files into Python's file system without copying them. The files stay views into
// the archive: unpacking 130 files takes milliseconds, Python's own unpacker takes hundreds.
function unpack(FS, archive) {
  const made = new Set();
  for (const [name, content] of entries(archive)) {
    const path = `${SITE_PACKAGES}/${name}`;
    const folder = path.slice(0, path.lastIndexOf("/"));
    if (!made.has(folder)) {
      FS.mkdirTree(folder);
      made.add(folder);
    }
    FS.writeFile(path, content, { canOwn: true });
  }
}

// Python asks for the compiled form of an extension module in the middle of an import, when nothing
// else can go on. The large ones are files of their own, compiled as they arrive; in numpy's archive
// only their heads are left, up to the section that names what the loader must make room for.
function handOut(modules) {
  const ready = modules.map((module) => [
    module,
    new Uint8Array(WebAssembly.Module.customSections(module, "dylink.0")[0]),
  ]);
  const endsWith = (content, tail) => {
    const start = content.byteLength - tail.byteLength;
    // The loader's bytes are signed.
    return start >= 0 && tail.every((byte, at) => byte === (content[start + at] & 255));
  };
  WebAssembly.Module = new Proxy(WebAssembly.Module, {
    construct(Module, [content]) {
      const known = ready.find(([, section]) => endsWith(content, section));
      return known ? known[0] : new Module(content);
    },
  });
}

// A file of WebAssembly. The engine keeps compiled code only for the response exactly as it came,
// so progress counts a copy, and not even that when the file is on this device already.
async function wasm(address) {
  const { row, response } = await load(address);
  const here = await self.caches?.match(address).catch(() => null);
  if (here) received.set(row.url, weight(row));
  else {
    const copy = counted(response.clone().body, row, row.bytes);
    new Response(copy).arrayBuffer().catch(() => {});
  }
  return response;
}

// Python's memory just after its start, numpy not yet loaded: a device that keeps the handbook makes
// this image once and saves a third of every later start. It is 21 MB, so it is made here rather
// than downloaded; it belongs to one build of the runtime and lies beside its files, by name.

const IMAGES = `${BASE.href} start`;
const imageAddress = (address) => new URL("start.image", address["pyodide.mjs"]).href;
const IMAGE_BYTES = 60e6; // what must be free before one is made

// What calc and numpy import of the standard library, best effort: a missing name costs nothing.
const IMPORTED = `
import gc, importlib
for name in (
    "base64 collections.abc contextlib copy dataclasses datetime decimal enum fractions functools "
    "hashlib html importlib.resources inspect itertools json math numbers operator os pathlib "
    "pickle platform random re string struct textwrap tomllib types typing unicodedata urllib.parse "
    "warnings weakref zlib ast keyword ctypes"
).split():
    try:
        importlib.import_module(name)
    except ImportError:
        pass
gc.collect()
`;

async function storedImage(address) {
  if (FRESH || !self.caches) return null;
  try {
    // Looked up by name, because opening a cache would make it.
    const found = await caches.match(imageAddress(address), { cacheName: IMAGES });
    return found ? new Uint8Array(await found.arrayBuffer()) : null;
  } catch {
    return null;
  }
}

async function makeImage() {
  const { address } = await addresses();
  const url = imageAddress(address);
  const { usage = 0, quota = 0 } = (await navigator.storage?.estimate?.()) ?? {};
  const made = await caches.match(url, { cacheName: IMAGES });
  if (!made && quota - usage > IMAGE_BYTES) {
    const stdlib = bytes(address["stdlib.zip"]);
    self.fetch = async (resource, options) => {
      const asked = new URL(resource?.url ?? resource, self.location.href).href;
      return asked === address["stdlib.zip"]
        ? new Response(await stdlib)
        : plainFetch(resource, options);
    };
    const { loadPyodide } = await import(address["pyodide.mjs"]);
    const bare = await loadPyodide({
      indexURL: new URL(".", address["pyodide.mjs"]).href,
      stdLibURL: address["stdlib.zip"],
      fsInit: (FS) => FS.mkdirTree(SITE_PACKAGES),
      _makeSnapshot: true,
    });
    bare.runPython(IMPORTED);
    const cache = await caches.open(IMAGES);
    for (const older of await cache.keys()) await cache.delete(older);
    await cache.put(url, new Response(bare.makeMemorySnapshot()));
  }
  postMessage({ type: "image" });
}

async function manifest() {
  const response = await plainFetch(new URL("rt/runtime.json", BASE), { cache: "no-cache" });
  if (!response.ok) throw new Error(`rt/runtime.json answered ${response.status}`);
  const content = await response.json();
  if (content.missing) {
    const error = new Error(content.missing);
    error.stage = "missing";
    throw error;
  }
  return content;
}

async function addresses() {
  const { files, lazy = [], version } = await manifest();
  later = lazy;
  const address = {};
  for (const row of files) {
    const url = new URL(row.url, BASE).href;
    rows.set(url, row);
    received.set(row.url, 0);
    total += weight(row);
    address[row.url.split("/").pop()] = url;
  }
  return { address, version };
}

async function boot() {
  const { address, version } = await addresses();
  stage = "download";
  report(true);

  // All downloads at once; Pyodide's own requests are served from these.
  const started = new Map();
  for (const name of ["numpy.zip", "calc.zip", "stdlib.zip"]) {
    const promise = bytes(address[name]);
    promise.catch(() => {});
    started.set(address[name], promise);
  }
  self.fetch = async (resource, options) => {
    const url = new URL(resource?.url ?? resource, self.location.href).href;
    if (started.has(url)) return new Response(await started.get(url));
    if (!rows.has(url)) return plainFetch(resource, options);
    // Compiled already, see below: the response is not read.
    if (url === address["pyodide.asm.wasm"]) return new Response();
    const { row, response } = await load(url);
    received.set(row.url, weight(row));
    return response;
  };

  // Compile while the scripts are still coming.
  const compiled = WebAssembly.compileStreaming(wasm(address["pyodide.asm.wasm"]));
  WebAssembly.instantiateStreaming = async (_, imports) => {
    const module = await compiled;
    return { module, instance: await WebAssembly.instantiate(module, imports) };
  };
  const libraries = Promise.all(
    Object.entries(address)
      .filter(([name]) => name.endsWith(".wasm") && name !== "pyodide.asm.wasm")
      .map(([, url]) => WebAssembly.compileStreaming(wasm(url))),
  ).then(handOut);
  // Pyodide only warns when a file fails and then waits for ever, or fails later with a riddle. So
  // failures have their own way out.
  const needed = Promise.all([compiled, libraries, ...started.values()]);
  const failed = needed.then(() => new Promise(() => {}));
  failed.catch(() => {});

  const stored = storedImage(address);
  const indexURL = new URL(".", address["pyodide.mjs"]).href;
  const again = FRESH ? "?fresh" : "";
  const script = import(address["pyodide.asm.js"] + again);
  script.catch(() => {});
  const { loadPyodide } = await import(address["pyodide.mjs"] + again);
  await script;
  const start = (image) =>
    loadPyodide({
      indexURL,
      stdLibURL: address["stdlib.zip"],
      fsInit: async (FS) => {
        FS.mkdirTree(SITE_PACKAGES);
        for (const name of ["numpy.zip", "calc.zip"]) {
          unpack(FS, await started.get(address[name]));
        }
        stage = "python";
        report(true);
      },
      ...(image ? { _loadSnapshot: image } : {}),
    });
  let image = await stored;
  const running = image
    ? start(image).catch(async (error) => {
        // Damaged, or not to this engine's taste: it is dropped and the usual start follows.
        console.warn("The kept start image was not usable:", error);
        image = null;
        await caches.delete(IMAGES);
        return start(null);
      })
    : start(null);
  const loaded = await Promise.race([failed, running]);
  self.fetch = plainFetch;
  await libraries;
  stage = "calc";
  report(true);
  const module = loaded.pyimport("calc.browser");
  module.set_progress((done, all, note) => {
    postMessage({ type: "busy", id: current, done, total: all, note: String(note ?? "") });
  });
  browser = module;
  python = loaded;
  // For the test that holds the tablet trap shut: 0 means the crashing path is off.
  const trap = loaded._module._PyEM_CountArgsPtr;
  postMessage({ type: "live", version, milliseconds: performance.now() - began, trap, image: Boolean(image) });
  if (waiting.size) schedule();
}

(self.name === "image" ? makeImage() : boot()).catch((error) => {
  console.error(error);
  const message = String(error?.message ?? error).trim().split("\n").pop();
  postMessage({ type: "failed", stage: error?.stage ?? stage, message });
});

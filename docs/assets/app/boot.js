// Starts Python: from its memory image, or from its parts where the image does not fit.

import { entries, unpack } from "./archive.js";
import {
  FRESH, address, allChecked, arrived, bytes, compiled, count, expect, forget, isCached, isKnown,
  manifest, plainFetch, script,
} from "./files.js";
import { inOrder, revive } from "./image.js";

// What Python sees of the machine; the start image was made with the same.
const SAME = {
  _sysExecutable: "python",
  env: {
    HOME: "/home/pyodide",
    LANG: "C.UTF-8",
    PYTHONHASHSEED: "0",
    PYTHONNODEBUGRANGES: "1",
  },
};
const ARCHIVES = ["stdlib.zip", "numpy.zip", "calc.zip"];
const SCRIPTS = ["pyodide.mjs", "pyodide.asm.js"];
/** What the image saves: two seconds of work here, several on a telephone [ms]. */
const SAVED = 5000;
const STDLIB = "/lib/python312.zip";
const MAIN = "pyodide.asm.wasm";

/**
 * A running Python.
 * @typedef {{python: any, browser: any, version: string, revived: boolean, lazy: string[],
 *            fetchParts: (() => Promise<void>) | null}} Running
 */

// Python asks for the compiled form of an extension module in the middle of an import, when nothing
// else can go on. The large ones are files of their own, compiled as they arrive; in numpy's archive
// only their heads are left, up to the section that names what the loader must make room for.
/** @param {WebAssembly.Module[]} modules */
function handOut(modules) {
  /** @type {[WebAssembly.Module, Uint8Array][]} */
  const ready = modules.map((module) => [
    module,
    new Uint8Array(WebAssembly.Module.customSections(module, "dylink.0")[0]),
  ]);
  /** @param {Uint8Array} content @param {Uint8Array} tail */
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

/**
 * Load everything and start Python. While it starts, some functions of the browser are replaced;
 * they are put back in any case.
 * @param {(stage: string) => void} reached told "download", "python" and "calc"
 * @returns {Promise<Running>}
 */
export async function boot(reached) {
  const { instantiateStreaming, Module } = WebAssembly;
  try {
    return await start(reached);
  } finally {
    Object.assign(WebAssembly, { instantiateStreaming, Module });
    self.fetch = plainFetch;
  }
}

/**
 * Whether Python's parts, less than half as large as its image, would come so much sooner that the
 * image does not pay, or the reader saves data. Asked when the scripts have come, which tells the
 * line.
 * @param {number} began
 */
async function partsPay(began) {
  const [loaded] = performance.getEntriesByName(address[SCRIPTS[1]]);
  const { transferSize, responseStart, responseEnd } =
    /** @type {PerformanceResourceTiming} */ (loaded ?? {});
  // Scripts that this browser had already say nothing about the line, and it has the rest too.
  if (!transferSize) return false;
  const image = arrived(address["start.zip"]);
  const whole = (/** @type {string[]} */ names) =>
    names.reduce((sum, name) => sum + arrived(address[name]).whole, 0);
  const more = image.whole - image.here - whole(ARCHIVES); // bytes that the image takes still, over the parts
  let bytesHere = whole(SCRIPTS);
  for (const url of Object.values(address)) bytesHere += arrived(url).here;
  // All files share the line, so one alone may look slow; and a busy processor is late to count.
  const rate = Math.max(
    bytesHere / (performance.now() - began),
    transferSize / Math.max(responseEnd - responseStart, 1),
  );
  const saving = Boolean(/** @type {any} */ (navigator).connection?.saveData);
  if (more < 0 || (more < SAVED * rate && !saving)) return false;
  return !(await isKept(address["start.zip"]));
}

/** What is kept comes from this device, at once. @param {string} url */
const isKept = async (url) => Boolean(await self.caches?.match(url).catch(() => null));

/**
 * Whether an earlier visit over a slow line has left the parts here, and not the image. The image is
 * asked for first: WebKit asks the network for what it has not, so there it always seems to be here.
 */
const hasParts = async () =>
  !FRESH &&
  !(await isKept(address["start.zip"])) &&
  !(await isCached(address["start.zip"])) &&
  isCached(address["calc.zip"]);

/** @param {(stage: string) => void} reached @returns {Promise<Running>} */
async function start(reached) {
  const { files, lazy = [], version, memory } = await manifest();
  for (const row of files) {
    expect(row);
    if (!row.spare) count(row);
  }
  const began = performance.now();
  reached("download");

  // All downloads at once. What fails is reported by whoever waits for it, and may be tried again.
  /** @type {Map<string, Promise<any>>} */
  const started = new Map();
  /** @param {string} name @param {(url: string) => Promise<any>} make @returns {Promise<any>} */
  const promised = (name, make) => {
    const already = started.get(name);
    if (already) return already;
    const promise = make(address[name]);
    started.set(name, promise);
    promise.catch(() => started.delete(name));
    return promise;
  };
  const scripts = Promise.all(SCRIPTS.map((name) => script(address[name])));
  scripts.catch(() => {});
  const extensions = Object.keys(address).filter((name) => name.endsWith(".wasm") && name !== MAIN);
  /** @type {Promise<WebAssembly.Module[]>} */
  const code = Promise.all([MAIN, ...extensions].map((name) => promised(name, compiled)));
  code.catch(() => {});
  /** @returns {Promise<Uint8Array[]>} */
  const archives = () => Promise.all(ARCHIVES.map((name) => promised(name, bytes)));
  const download = new AbortController(); // of the image
  let hasImage = "start.zip" in address;
  const countParts = () => files.filter(({ spare }) => spare).forEach(count);
  const useParts = () => {
    hasImage = false;
    download.abort();
    forget(address["start.zip"]);
    countParts();
    archives().catch(() => {});
  };
  if (hasImage && (await hasParts())) useParts();
  const first = hasImage ? promised("start.zip", (url) => bytes(url, download.signal)) : archives();
  first.catch(() => {});

  // What the start image holds, once it is there and whole; or why it is not.
  /** @type {any} */
  let image = null;
  /** @type {unknown} */
  let trouble = null;
  const open = async () => {
    const found = Object.fromEntries(entries(await first));
    const read = (/** @type {string} */ name) => JSON.parse(new TextDecoder().decode(found[name]));
    image = { ...found, start: read("start.json"), places: read("places.json") };
  };
  const opened = hasImage ? open().catch((error) => (trouble = error)) : null;

  /** @type {Record<string, WebAssembly.Module>} */
  let modules = {};
  WebAssembly.instantiateStreaming = async (_, imports = {}) => {
    const [module, ...others] = await code;
    modules = Object.fromEntries(extensions.map((name, nth) => [name, others[nth]]));
    const instance = await WebAssembly.instantiate(module, imports);
    await opened;
    reached("python");
    const table = /** @type {WebAssembly.Table} */ (imports.env.__indirect_function_table);
    return { module, instance: inOrder(module, instance, table, image?.places ?? {}) };
  };
  const [{ loadPyodide }] = await scripts;
  if (hasImage && (await partsPay(began))) useParts();
  const scope = /** @type {any} */ (self);
  const create = scope._createPyodideModule;
  /** @param {object} options @param {BodyInit} stdlib */
  const run = (options, stdlib) => {
    self.fetch = async (resource, given) => {
      const url = new URL(resource instanceof Request ? resource.url : resource, self.location.href).href;
      // Compiled already, see above: the response is not read.
      if (url === address[MAIN]) return new Response();
      if (url === address["stdlib.zip"]) return new Response(stdlib);
      return isKnown(url) ? new Response(await bytes(url)) : plainFetch(resource, given);
    };
    const starting = loadPyodide({
      indexURL: new URL(".", address["pyodide.mjs"]).href,
      stdLibURL: address["stdlib.zip"],
      ...SAME,
      ...options,
    });
    // Without its code it would wait, or say something less clear.
    return Promise.race([starting, code.then(() => starting)]);
  };

  // Python's own start-up begins while code and image are still on their way.
  const fromImage = async () => {
    scope._createPyodideModule = async (/** @type {object} */ settings) => {
      const Module = await create(settings);
      Module.API.restoreSnapshot = () => {
        if (trouble) throw trouble;
        return revive(Module, image, modules);
      };
      return Module;
    };
    try {
      return await run({ _loadSnapshot: new Uint8Array(memory) }, "");
    } finally {
      scope._createPyodideModule = create;
    }
  };

  const fromArchives = async () => {
    const [stdlib, ...packages] = await archives();
    const [, ...others] = await code;
    handOut(others);
    const fsInit = (/** @type {any} */ FS) => packages.forEach((each) => unpack(FS, each));
    return run({ fsInit }, /** @type {BodyInit} */ (stdlib));
  };

  /** @type {any} */
  let python = null;
  if (hasImage) {
    try {
      python = await fromImage();
    } catch (error) {
      // Damaged, or not to this engine's taste: Python then loads everything by itself.
      console.warn("The start image was not usable:", error);
      countParts();
      image = null;
      reached("download");
    }
  }
  const revived = python !== null;
  python ??= await fromArchives().catch((error) => {
    // Without a network it is the damaged image that the reader must hear of.
    throw hasImage && trouble && !navigator.onLine ? trouble : error;
  });
  reached("calc");
  const browser = python.pyimport("calc.frontends.browser");
  await allChecked();
  // Fetches the files behind the modules that the start image holds in memory, and all the others.
  const fetchParts = async () => {
    const [stdlib, ...packages] = await archives();
    python.FS.writeFile(STDLIB, stdlib, { canOwn: true });
    packages.forEach((each) => unpack(python.FS, each));
    browser.files_arrived();
  };
  return {
    python, browser, version, revived, lazy: lazy.map(expect), fetchParts: revived ? fetchParts : null,
  };
}

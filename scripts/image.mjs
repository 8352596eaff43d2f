// Start Python under Node, load calc, let it answer everything once, and write its memory.
//
//   node scripts/image.mjs JOB.json
//
// JOB.json: {"pyodide": folder of the npm package, "stdlib": archive, "archives": [of modules],
//            "libraries": {name of an extension module: its WebAssembly file}, "target": folder}
//
// Writes into the target: start.json (what the worker must do first), places.json (of functions in
// the main module's table), blocks (for each block of memory whether it travels) and memory (those
// that do). docs/assets/app/worker.js puts them back.

import { readFile, writeFile } from "node:fs/promises";
import { pathToFileURL } from "node:url";

// Node would print the script around an error, which is one line of a megabyte.
process.on("uncaughtException", (error) => {
  console.error(String(error?.message ?? error).trim().split("\n").pop());
  process.exit(1);
});

const BLOCK = 1024;
const SITE_PACKAGES = "/lib/python3.12/site-packages";

const job = JSON.parse(await readFile(process.argv[2], "utf8"));
const { loadPyodide } = await import(pathToFileURL(`${job.pyodide}/pyodide.mjs`).href);
await import(pathToFileURL(`${job.pyodide}/pyodide.asm.js`).href);
const create = globalThis._createPyodideModule;

const libraries = new Map();
for (const [name, file] of Object.entries(job.libraries)) {
  libraries.set(name, await WebAssembly.compile(await readFile(file)));
}

// What Python sees of the machine, and the order of its sets; the worker starts with the same.
const options = {
  indexURL: job.pyodide,
  stdLibURL: job.stdlib,
  _sysExecutable: "python",
  env: {
    HOME: "/home/pyodide",
    LANG: "C.UTF-8",
    PYTHONHASHSEED: "0",
    PYTHONNODEBUGRANGES: "1",
  },
};

// The same parts give the same image, whenever and wherever it is taken: a reader's copy stays good.
let clock = 0;
Date.now = () => (clock += 1000);
Object.defineProperty(globalThis, "crypto", {
  value: { getRandomValues: (array) => array.fill(0) },
});

// first: a start as usual, which loads and warms everything

let own = 0; // places in the table of functions that the main module fills itself
WebAssembly.Table = new Proxy(WebAssembly.Table, {
  construct(Table, [wanted]) {
    own ||= wanted.initial;
    return new Table(wanted);
  },
});
let lived;
globalThis._createPyodideModule = async (settings) => (lived = await create(settings));
const python = await loadPyodide({
  ...options,
  _makeSnapshot: true,
  fsInit: (FS) => {
    FS.mkdirTree("/archives");
    FS.mkdirTree(SITE_PACKAGES);
  },
});
// Extension modules lie in the archive as heads only, see _set_apart in runtime.py.
const heads = [...libraries].map(([name, module]) => [
  name,
  new Uint8Array(WebAssembly.Module.customSections(module, "dylink.0")[0]),
]);
const Module = WebAssembly.Module;
WebAssembly.Module = new Proxy(Module, {
  construct(_, [content]) {
    const known = heads.find(([, section]) => {
      const start = content.byteLength - section.byteLength;
      return start >= 0 && section.every((byte, at) => byte === (content[start + at] & 255));
    });
    return known ? libraries.get(known[0]) : new Module(content);
  },
});
for (const archive of job.archives) {
  python.unpackArchive(new Uint8Array(await readFile(archive)), "zip", {
    extractDir: SITE_PACKAGES,
  });
}
python.runPython(await readFile(new URL("image.py", import.meta.url), "utf8"));

// Free memory is full of leftovers that would travel. Small pieces first: the large ones then also
// cover the marks that the small ones left.
const { malloc, free, emscripten_stack_get_end: stackEnd } =
  lived.LDSO.loadedLibsByName.__main__.exports;
const highest = lived.HEAPU8.length;
for (const size of [64, 256, 1024, 1 << 13, 1 << 16, 1 << 18]) {
  const taken = [];
  for (;;) {
    const at = malloc(size) >>> 0;
    taken.push(at);
    if (at + size > highest) break;
    lived.HEAPU8.fill(0, at, at + size);
  }
  for (const at of taken) free(at);
}
lived.HEAPU8.fill(0, stackEnd() >>> 0, lived.stackSave());

// Packages found on the way are found again at every start.
for (const name of Object.keys(python.loadedPackages)) delete python.loadedPackages[name];
const snapshot = python.makeMemorySnapshot();
const [, offset, length] = new Uint32Array(snapshot.buffer, 0, 3);
const config = JSON.parse(new TextDecoder().decode(snapshot.subarray(48, 48 + length)));
const memory = snapshot.subarray(offset);
const field = (handle, at) => lived.HEAPU32[(handle + at) >> 2];
const loaded = Object.entries(lived.LDSO.loadedLibsByHandle)
  .filter(([handle]) => Number(handle) !== 0)
  .map(([text, { name }]) => {
    const handle = Number(text);
    // Where the C library notes what it loaded and where (struct dso of Emscripten's dynlink.c).
    return { name, handle, fields: [12, 16, 20, 24].map((at) => field(handle, at)) };
  })
  .sort((a, b) => a.fields[2] - b.fields[2]);
for (const library of loaded) {
  const name = library.name.split("/").pop().split(".")[0].replace(/^_+/, "");
  if (!libraries.has(name)) throw new Error(`${library.name} does not travel on its own`);
  library.file = `${name}.wasm`;
}
const table = lived.wasmTable.length;
const main = await WebAssembly.compile(await readFile(`${job.pyodide}/pyodide.asm.wasm`));
const places = {};
for (const { name, kind } of WebAssembly.Module.exports(main)) {
  const place = lived.GOT[name]?.value;
  if (kind === "function" && place > 0 && place < own) places[name] = place;
}
const symbols = Object.entries(lived.GOT).map(([name, { value }]) => [name, value]);

// second: a start as the worker does it, to see which memory is there anyway

let fresh;
globalThis._createPyodideModule = async (settings) => (fresh = await create(settings));
await loadPyodide({ ...options, _loadSnapshot: new Uint8Array(memory.length) }).catch((error) => {
  if (!/magic number/.test(error.message)) throw error;
});
const heap = fresh.___heap_base;
const stack = stackEnd() >>> 0; // it lies below the heap and grows down to here
const used = fresh.HEAPU8.findLastIndex((byte) => byte !== 0) + (1 << 16);
for (const { name, handle, fields, file } of loaded) {
  fresh.HEAPU8[handle + 8] = 1;
  [12, 16, 20, 24].forEach((at, number) => (fresh.HEAPU32[(handle + at) >> 2] = fields[number]));
  const flags = { loadAsync: false, nodelete: true, global: false };
  const module = libraries.get(file.replace(".wasm", ""));
  fresh.newDSO(name, handle, fresh.loadWebAssemblyModule(module, flags, name, {}, handle));
}
if (fresh.wasmTable.length !== table) throw new Error("the second start fills another table");
for (const [name, value] of symbols) {
  if (fresh.GOT[name]?.value !== value) throw new Error(`the second start moves ${name}`);
}

// third: what differs

const others = fresh.HEAPU8;
const count = Math.ceil(memory.length / BLOCK);
const travel = new Uint8Array(count);
const blocks = [];
for (let number = 0; number < count; number += 1) {
  const at = number * BLOCK;
  const block = memory.subarray(at, at + BLOCK);
  if (at >= stack && at + 2 * BLOCK <= heap) continue; // the stack is empty between two calls
  // The modules' own data are there after any start. Further up lie texts of the machine (its
  // language, say), and then nothing.
  const given = at + BLOCK <= stack || at > used;
  if (given && block.every((byte, index) => byte === others[at + index])) continue;
  travel[number] = 1;
  blocks.push(block);
}

// Two sums: over what travels, and over what must be there already, the addresses of all symbols
// included.
const words = new Int32Array(memory.slice().buffer);
const add = (sum, from, to) => {
  for (let at = from >> 2; at < to >> 2; at += 1) sum = Math.imul(sum ^ words[at], 16777619);
  return sum;
};
let travels = 0;
travel.forEach((one, number) => {
  if (one) travels = add(travels, number * BLOCK, (number + 1) * BLOCK);
});
const given = [[0, stack], ...loaded.map(({ fields: [from, size] }) => [from, from + size])];
let there = given.reduce((sum, [from, to]) => add(sum, from, to), 0);
for (const [, value] of symbols) there = Math.imul(there ^ value, 16777619);

const sums = { travels, there };
const start = { bytes: memory.length, block: BLOCK, given, libraries: loaded, table, sums, config };
await writeFile(`${job.target}/start.json`, JSON.stringify(start));
await writeFile(`${job.target}/places.json`, JSON.stringify(places));
await writeFile(`${job.target}/blocks`, travel);
await writeFile(`${job.target}/memory`, Buffer.concat(blocks));

// Python's memory after everything was loaded and had answered once, written at the build by
// scripts/image.mjs. Putting it back takes a tenth of what loading takes.

/**
 * What start.json holds: where blocks and libraries go, and the sums that tell damage.
 * @typedef {{bytes: number, block: number, given: [number, number][], table: number,
 *            libraries: {name: string, handle: number, fields: number[], file: string}[],
 *            sums: {travels: number, there: number}, config: object}} Start
 * @typedef {{start: Start, places: Record<string, number>, blocks: Uint8Array,
 *            memory: Uint8Array}} Image
 */

/**
 * An instance whose exports come in the module's order, and where the table of functions has them
 * too, from there. Pyodide gives functions their numbers in the order in which it meets them, and
 * looks whether they have one already: not every engine keeps the order, and WebKit's exports are
 * other objects than those in the table.
 * @param {WebAssembly.Module} module
 * @param {WebAssembly.Instance} instance
 * @param {WebAssembly.Table} table
 * @param {Record<string, number>} places
 */
export function inOrder(module, { exports }, table, places) {
  const named = WebAssembly.Module.exports(module).map(({ name }) => [
    name,
    name in places ? table.get(places[name]) : exports[name],
  ]);
  return { exports: Object.fromEntries(named) };
}

/**
 * Fill the memory of a Python that has just started. Blocks that any start leaves the same are not
 * in the image.
 * @param {any} Module Emscripten's module
 * @param {Image} image
 * @param {Record<string, WebAssembly.Module>} modules numpy's extension modules by file name
 * @returns {object} what Pyodide needs to go on
 */
export function revive(Module, image, modules) {
  const { bytes, block, given, libraries, table, sums, config } = image.start;
  // The modules' functions and data go where they were; the marks say that room is made already.
  for (const { name, handle, fields, file } of libraries) {
    Module.HEAPU8[handle + 8] = 1;
    [12, 16, 20, 24].forEach((at, nth) => (Module.HEAPU32[(handle + at) >> 2] = fields[nth]));
    const flags = { loadAsync: false, nodelete: true, global: false };
    const exports = Module.loadWebAssemblyModule(modules[file], flags, name, {}, handle);
    Module.newDSO(name, handle, exports);
  }
  const { HEAPU8: heap, HEAP32: words } = Module;
  if (heap.length !== bytes) throw new Error(`${heap.length} bytes of memory instead of ${bytes}`);
  /** @param {number} sum @param {number} from @param {number} to */
  const add = (sum, from, to) => {
    for (let at = from >> 2; at < to >> 2; at += 1) sum = Math.imul(sum ^ words[at], 16777619);
    return sum;
  };
  const { blocks, memory } = image;
  let travels = 0;
  let from = 0;
  for (let number = 0; number < blocks.length; number += 1) {
    if (blocks[number] === 0) continue;
    const at = number * block;
    heap.set(memory.subarray(from, from + block), at);
    travels = add(travels, at, at + block);
    from += block;
  }
  if (travels !== sums.travels) throw new Error("start.zip is damaged");
  let there = 0;
  for (const [start, end] of given) there = add(there, start, end);
  for (const { value } of Object.values(Module.GOT)) there = Math.imul(there ^ value, 16777619);
  if (there !== sums.there || Module.wasmTable.length !== table) {
    throw new Error("this engine starts in another way than the image");
  }
  return config;
}

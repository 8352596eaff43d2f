// Byte-compile trees of Python sources with the very interpreter that will run them.
//
//   node scripts/bytecode.mjs JOBS.json
//
// JOBS.json: {"pyodide": folder of the npm package,
//             "trees": [{"folder": …, "optimize": 0 | 2}, …]}
//
// Every x.py of a tree is replaced by x.pyc beside it (the layout Python accepts without a
// source). Compiling inside Pyodide makes the magic number right by construction; a Python of the
// machine would only do if its minor version happened to match. The compiled files carry an
// unchecked hash: there is no source beside them to compare with.

import { readFile } from "node:fs/promises";
import { pathToFileURL } from "node:url";

// Node would print the script around an error, which is one line of a megabyte.
process.on("uncaughtException", (error) => {
  console.error(String(error?.message ?? error).trim().split("\n").pop());
  process.exit(1);
});

const jobs = JSON.parse(await readFile(process.argv[2], "utf8"));
const { loadPyodide } = await import(pathToFileURL(`${jobs.pyodide}/pyodide.mjs`).href);
const python = await loadPyodide({ indexURL: jobs.pyodide });

jobs.trees.forEach(({ folder }, index) => {
  python.FS.mkdirTree(`/tree/${index}`);
  python.FS.mount(python.FS.filesystems.NODEFS, { root: folder }, `/tree/${index}`);
});
python.globals.set("trees", JSON.stringify(jobs.trees));
const failed = python.runPython(`
import json, pathlib, py_compile

failed = []
for index, tree in enumerate(json.loads(trees)):
    root = pathlib.Path(f"/tree/{index}")
    for source in sorted(root.rglob("*.py")):
        name = str(source.relative_to(root))
        try:
            py_compile.compile(
                str(source), str(source.with_suffix(".pyc")), dfile=name, doraise=True,
                optimize=tree["optimize"],
                invalidation_mode=py_compile.PycInvalidationMode.UNCHECKED_HASH)
        except (py_compile.PyCompileError, SyntaxError, ValueError) as error:
            failed.append(f"{name}: {error}")
        else:
            source.unlink()
json.dumps(failed)
`);
const messages = JSON.parse(failed);
if (messages.length) {
  console.error(messages.join("\n"));
  process.exit(1);
}

// Byte-compile a tree of Python sources with the very interpreter that will run them.
//
//   node scripts/bytecode.mjs JOB.json
//
// JOB.json: {"pyodide": folder of the npm package, "folder": the tree,
//            "documented": names within it whose docstrings stay}
//
// Every x.py of the tree is replaced by x.pyc beside it (the layout Python accepts without a
// source), as with -OO unless documented, and with the lines of an error but not its columns, which
// make a quarter of what travels. Compiling inside Pyodide makes the magic number right by
// construction; a Python of the machine would only do if its minor version happened to match. The
// compiled files carry an unchecked hash: there is no source beside them to compare with.

import { readFile } from "node:fs/promises";
import { pathToFileURL } from "node:url";

// Node would print the script around an error, which is one line of a megabyte.
process.on("uncaughtException", (error) => {
  console.error(String(error?.message ?? error).trim().split("\n").pop());
  process.exit(1);
});

const job = JSON.parse(await readFile(process.argv[2], "utf8"));
const { loadPyodide } = await import(pathToFileURL(`${job.pyodide}/pyodide.mjs`).href);
const python = await loadPyodide({
  indexURL: job.pyodide,
  env: { PYTHONNODEBUGRANGES: "1" },
});

python.FS.mkdirTree("/tree");
python.FS.mount(python.FS.filesystems.NODEFS, { root: job.folder }, "/tree");
python.globals.set("documented", JSON.stringify(job.documented));
const failed = python.runPython(`
import json, pathlib, py_compile

failed = []
root = pathlib.Path("/tree")
kept = json.loads(documented)
for source in sorted(root.rglob("*.py")):
    name = str(source.relative_to(root))
    try:
        py_compile.compile(
            str(source), str(source.with_suffix(".pyc")), dfile=name, doraise=True,
            optimize=0 if name in kept else 2,
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

// Which Python files making a PDF and a DXF takes, found by making them inside Pyodide under Node.
//
//   node scripts/library.mjs JOB.json
//
// JOB.json: {"pyodide": folder of the npm package, "folders": {name: folder}}; the folders become
// Python's path in that order. Prints JSON: for each folder the files imported or read, and under
// "stdlib" the modules of the standard library.

import { readFile } from "node:fs/promises";
import { pathToFileURL } from "node:url";

process.on("uncaughtException", (error) => {
  console.error(String(error?.message ?? error).trim().split("\n").pop());
  process.exit(1);
});

const job = JSON.parse(await readFile(process.argv[2], "utf8"));
const { loadPyodide } = await import(pathToFileURL(`${job.pyodide}/pyodide.mjs`).href);
const python = await loadPyodide({ indexURL: job.pyodide });
for (const [name, root] of Object.entries(job.folders)) {
  python.FS.mkdirTree(`/${name}`);
  python.FS.mount(python.FS.filesystems.NODEFS, { root }, `/${name}`);
}
python.globals.set("names", JSON.stringify(Object.keys(job.folders)));
const found = python.runPython(`
import json, os, sys, warnings

names = json.loads(names)
sys.path[:0] = [f"/{name}" for name in names]
sys.dont_write_bytecode = True
read = set()

def heard(event, given):
    if event == "open" and isinstance(given[0], str):
        read.add(os.path.abspath(given[0]))

sys.addaudithook(heard)
warnings.simplefilter("ignore")
from calc import nesting, templates

fin = nesting.Part(((0, 0), (0.08, 0), (0.06, 0.12), (0.03, 0.12)), quantity=3, name="fin")
stock = nesting.Sheet(0.9, 0.076, defects=((0.1, 0.03, 0.01),))
plan = nesting.nest([fin, nesting.ring(0.04, 0.02)], [stock], kerf=0.001, iterations=1)
for paper in templates.PAPERS:
    assert templates.pdf_bytes(plan, paper).startswith(b"%PDF")
assert b"LWPOLYLINE" in templates.dxf_bytes(plan)

files = {getattr(module, "__file__", None) for module in list(sys.modules.values())} | read
out = {name: sorted(f[len(name) + 2:] for f in files if f and f.startswith(f"/{name}/")
                    and not f.endswith(".pyc") and os.path.isfile(f)) for name in names}
out["stdlib"] = sorted(name for name, module in list(sys.modules.items())
                       if "python312.zip" in (getattr(module, "__file__", None) or ""))
json.dumps(out)
`);
console.log(found);

// Which Python files it takes to make a PDF and a DXF and to read an outline from DXF and SVG, found
// by doing so inside Pyodide under Node.
//
//   node scripts/library.mjs JOB.json
//
// JOB.json: {"pyodide": folder of the npm package, "folders": {name: folder},
//            "unused": {package: source}}
//
// The folders become Python's path in that order. Modules of an unused package are imported by name
// but never called: each is made from the given source. Prints JSON: for each folder the files
// imported or read, under "unused" the modules so made, and under "stdlib" the modules of the
// standard library beyond those that Python and numpy load at their start.

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
python.globals.set("unused", JSON.stringify(job.unused));
const found = python.runPython(`
import importlib.abc, importlib.util, io, json, os, sys, warnings

names, unused = json.loads(names), json.loads(unused)
sys.path[:0] = [f"/{name}" for name in names]
sys.dont_write_bytecode = True
import numpy
held = {name for name in sys.modules if not name.startswith("importlib")}
read, made = set(), []

class Unused(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    def find_spec(self, name, path, target=None):
        if name.partition(".")[0] in unused:
            made.append(name)
            return importlib.util.spec_from_loader(name, self, is_package=True)

    def exec_module(self, module):
        exec(unused[module.__name__.partition(".")[0]], vars(module))

sys.meta_path.insert(0, Unused())

def heard(event, given):
    if event == "open" and isinstance(given[0], str):
        read.add(os.path.abspath(given[0]))

sys.addaudithook(heard)
warnings.simplefilter("ignore")
from calc.workshop import drawing_file, layout_search, templates
from calc.workshop.parts import Part, Sheet, ring

fin = Part(((0, 0), (0.08, 0), (0.06, 0.12), (0.03, 0.12)), quantity=3, name="fin")
stock = Sheet(0.9, 0.076, defects=((0.1, 0.03, 0.01),))
plan = layout_search.nest([fin, ring(0.04, 0.02)], [stock], kerf=0.001, iterations=1)
for paper in templates.PAPERS:
    assert templates.pdf_bytes(plan, paper).startswith(b"%PDF")
drawn = templates.dxf_bytes(plan)
assert b"LWPOLYLINE" in drawn

from ezdxf.filemanagement import new

def written(version, fill):
    document = new(version)
    fill(document.modelspace())
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()

def everything(space):
    space.add_line((0, 0), (80, 0))
    space.add_arc((70, 0), 10, 0, 90)
    space.add_line((70, 10), (60, 20))
    space.add_spline([(60, 20), (55, 30), (50, 35)])
    space.add_ellipse((40, 35), (10, 0), 0.5, 0, 3.141592653589793)
    space.add_lwpolyline([(30, 35), (10, 20, 0, 0, 0.3), (0, 0)])
    space.add_text("remark")

def old(space):
    space.add_polyline2d([(0, 0, 0), (80, 0, 0.4), (60, 40, 0)], format="xyb", close=True)

assert drawing_file.read(written("R2010", everything)).roots
assert drawing_file.read(written("R12", old)).roots
svg = """<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9" width="9mm">
<style>.a {{display: none}}</style><g transform="rotate(9) translate(2) skewX(3)"><path
d="M0 0h5a2 1 0 0 1 2 1c1 1-1 2-2 3q-1 1-2 1t-1-1s-1-1-1-1z"/></g>{}</svg>"""
assert drawing_file.read(svg.format("").encode()).roots
for bad in (svg.format("<rect width='1' height='1' rx='.1'/><polygon points='0,0 9,9'/><circle/>"),
            "<svg><path d='M0 x", "0\\nSECTION\\n2\\nENTITIES\\n0\\nLINE\\n10\\nx", "nothing"):
    try:
        drawing_file.read(bad.encode())
    except ValueError:
        pass

files = {getattr(module, "__file__", None) for module in list(sys.modules.values())} | read
out = {name: sorted(f[len(name) + 2:] for f in files if f and f.startswith(f"/{name}/")
                    and not f.endswith(".pyc") and os.path.isfile(f)) for name in names}
out["stdlib"] = sorted(name for name, module in list(sys.modules.items()) if name not in held
                       and "python312.zip" in (getattr(module, "__file__", None) or ""))
out["unused"] = sorted(made)
json.dumps(out)
`);
console.log(found);

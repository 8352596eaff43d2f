"""Run inside Pyodide by image.mjs: load all of calc, answer everything once, tidy up.

A reader without a network has this memory and no files: every module that an answer may import and
every data file that it may read must be loaded here (`tests/unit/scripts/test_start_image.py`).
What was computed for one outline is dropped again: the reader has another, and these are megabytes.
"""

import functools
import gc
import importlib
import json
import pkgutil
import sys

import calc
from calc import calculators, materials
from calc.frontends import browser
from calc.workshop import finish

for found in pkgutil.walk_packages(calc.__path__, "calc."):
    importlib.import_module(found.name)
for name in materials.names():
    materials.load(name)
for family in finish.families():
    finish.usual(family)
for slug in calculators.SLUGS:
    # With an address, as on a page: then a card also makes its QR code.
    answer = json.loads(browser.answer(slug, '{"address": "https://example.org/"}'))
    if answer["errors"]:
        raise RuntimeError(f"{slug} does not answer its example: {answer['errors']}")
browser.convert("fin-check", "root", "3 in", "mm")
# Its libraries come later; what it asks of a file is there.
browser.outline_file("", "", "{}", "inch")
browser.tone(json.dumps([0.0, 1.0] * 500), 8000.0)

OF_ONE_OUTLINE = ("calc.structure.", "calc.aeroelastic.", "calc.fin.")
for name, module in list(sys.modules.items()):
    if name.startswith(OF_ONE_OUTLINE):
        for value in vars(module).values():
            if isinstance(value, functools._lru_cache_wrapper):
                value.cache_clear()
gc.collect()
# Python keeps small objects in pools of its own: filling the free places with zeros once.
for size in range(16, 513, 16):
    zeros = [bytes(max(size - 17, 0)) for _ in range(400_000 // size)]
    del zeros
gc.collect()

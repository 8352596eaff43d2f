"""Run inside Pyodide by image.mjs: load all of calc, answer everything once, tidy up.

What is read and compiled here need not be at the reader's. What was computed for one outline is
dropped again: the reader has another, and these are megabytes.
"""

import functools
import gc
import importlib
import json
import pkgutil

import calc
from calc import aeroelastic, browser, calculators, check, layup, materials, strength

for found in pkgutil.walk_packages(calc.__path__, "calc."):
    importlib.import_module(found.name)
for name in materials.names():
    materials.load(name)
for slug in calculators.SLUGS:
    answer = json.loads(browser.answer(slug, "{}"))
    if answer["errors"]:
        raise RuntimeError(f"{slug} does not answer its example: {answer['errors']}")
browser.convert("fin-check", "root", "3 in", "mm")
browser.tone(json.dumps([0.0, 1.0] * 500), 8000.0)

for module in (aeroelastic, check, layup, strength):
    for value in vars(module).values():
        if isinstance(value, functools._lru_cache_wrapper):
            value.cache_clear()
gc.collect()
# Python keeps small objects in pools of its own: filling the free places with zeros once.
for size in range(16, 513, 16):
    zeros = [bytes(max(size - 17, 0)) for _ in range(400_000 // size)]
    del zeros
gc.collect()

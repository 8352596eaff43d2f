"""How long a check takes, and a sweep of 200 candidates, on this machine and one core.

Run ``python -m scripts.bench`` from the project; ``--json FILE`` also writes the numbers. Medians
of repeated runs after one that warms up. The first check of an outline includes the work that
depends on the outline only; later checks of the same outline find it done.
"""

from __future__ import annotations

import os

# before numpy is loaded: one core is what a reader's browser gives
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import argparse
import json
import platform
import statistics
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from calc import materials
from calc.air import atmosphere
from calc.fin import boundaries, check, model
from calc.fin.fin import Fin, Point
from calc.frontends import browser
from calc.geometry.planform import Edge, Planform
from calc.structure.laminate import Layup

OUTLINE = Planform(root=0.15, tip=0.06, span=0.09, sweep=0.07)
SPEED, ALTITUDE = 180.0, 300.0
CANDIDATES = 200
PAINTED = ("", "start/", "check/fin-check/", "choose/material-finder/", "understand/grain/")
"""Pages whose largest paint is timed: the doors, the largest forms, prose."""


def median(action: Callable[[], object], *, repeats: int) -> float:
    """Return the median time of an action [ms]."""
    action()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        action()
        times.append(1e3 * (time.perf_counter() - start))
    return statistics.median(times)


def candidates(outline: Planform) -> tuple[list[Layup], list[float]]:
    """Return stacks and directions: four materials in five thicknesses and ten grains."""
    stacks, directions = [], []
    for name in ("balsa", "basswood", "birch-plywood", "glass-epoxy"):
        material = materials.load(name)
        for thickness in (0.0016, 0.0024, 0.0032, 0.0048, 0.0064):
            stack = Fin(outline, material, thickness).layup()
            for grain in np.radians(np.linspace(-45.0, 45.0, 10)):
                stacks.append(stack)
                directions.append(outline.grain_direction(float(grain)))
    return stacks, directions


def measure(*, repeats: int = 9) -> dict[str, float]:
    """Return medians [ms] and ratios by name."""
    air = atmosphere.at(ALTITUDE)
    point = Point(SPEED, air)
    fin = Fin(OUTLINE, materials.load("birch-plywood"), 0.0032)
    shaped = Fin(OUTLINE, fin.material, 0.0032, edge=Edge("tapered", 0.15))
    stacks, directions = candidates(OUTLINE)
    shape = model.model_for(fin)

    def first(one: Fin) -> None:
        model.air.cache_clear()
        model.model.cache_clear()
        check.check(one, point)

    def sweep() -> None:
        found = model.structure(shape, stacks, directions)
        boundaries.flutter_and_divergence(shape, found, air)

    def outline_only() -> None:
        model.air.cache_clear()
        model.model.cache_clear()
        model.model_for(fin)

    found = model.structure(shape, stacks, directions)
    out = {
        "first check": median(lambda: first(fin), repeats=repeats),
        "first check, bevelled edges": median(lambda: first(shaped), repeats=repeats),
        "outline's share": median(outline_only, repeats=repeats),
        "later check": median(lambda: check.check(fin, point), repeats=repeats),
        "200 candidates": median(sweep, repeats=max(3, repeats // 3)),
        "200 candidates, plate": median(
            lambda: model.structure(shape, stacks, directions), repeats=max(3, repeats // 3)
        ),
        "200 candidates, air": median(
            lambda: boundaries.flutter_and_divergence(shape, found, air),
            repeats=max(3, repeats // 3),
        ),
    }
    out["candidates over first check"] = out["200 candidates"] / out["first check"]
    return out


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the numbers and write them where asked."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--repeats", type=int, default=9)
    parser.add_argument("--json", type=Path, help="also write the numbers to this file")
    parser.add_argument(
        "--browser",
        type=Path,
        metavar="SITE",
        help="also measure this built site in Chromium: bytes, start, answers",
    )
    parser.add_argument(
        "--drag",
        type=Path,
        metavar="SITE",
        help="also measure in Chromium how fast this built site's verdict follows a dragged corner",
    )
    parser.add_argument(
        "--phone",
        type=Path,
        metavar="SITE",
        help="also measure this built site's start and largest paints on a slow phone: processors "
        "four times slower, a slow 4G line",
    )
    parser.add_argument(
        "--shared",
        type=Path,
        metavar="SITE",
        help="also measure this built site's start on one core that three endless loops share",
    )
    chosen = parser.parse_args(arguments)
    found = measure(repeats=chosen.repeats)
    for slug in ("fin-check", "material-finder"):
        found[f"{slug} answer"] = median(
            lambda slug=slug: browser.answer(slug, "{}"),  # type: ignore[misc]
            repeats=3,
        )
    for name, value in found.items():
        print(f"{name:32s}{value:9.1f}{'' if 'over' in name else ' ms'}")
    if chosen.browser:
        from scripts import bench_boot, environment

        program = environment.chromium()
        print(json.dumps(bench_boot.sizes(chosen.browser), indent=1))
        print(json.dumps(bench_boot.boot(chosen.browser, program, "check/fin-check/"), indent=1))
        print(json.dumps(bench_boot.answers(chosen.browser, program), indent=1))
    if chosen.phone:
        from scripts import bench_boot, environment

        with bench_boot.slowed(environment.chromium(), 4.0) as program:
            times = bench_boot.boot(
                chosen.phone, program, "check/fin-check/", rounds=3, slow_line=True
            )
            largest = bench_boot.paints(chosen.phone, program, PAINTED, slow_line=True)
        print(json.dumps(times, indent=1))
        print(json.dumps({"largest paint": largest}, indent=1))
    if chosen.shared:
        from scripts import bench_boot, environment

        with bench_boot.shared(environment.chromium(), 3) as program:
            times = bench_boot.boot(chosen.shared, program, "check/fin-check/", rounds=3)
        print(json.dumps(times, indent=1))
    if chosen.browser or chosen.drag:
        from scripts import bench_boot, environment

        site = chosen.browser or chosen.drag
        program = environment.chromium()
        print(json.dumps(bench_boot.dragging(site, program, "check/fin-check/"), indent=1))
    if chosen.json:
        record = {
            "python": platform.python_version(),
            "numpy": np.__version__,
            "machine": platform.machine(),
            "candidates": CANDIDATES,
            "unit": "ms",
            "medians": {name: round(value, 3) for name, value in found.items()},
        }
        chosen.json.write_text(json.dumps(record, indent=2) + "\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

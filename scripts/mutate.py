"""Mutation tests: change one rule or number at a time and see whether any test notices.

``python -m scripts.mutate`` takes every constant of ``tests/policy.toml`` to an unsafe and to a
safe value, and turns every comparison, ``min``, ``max``, ``any``, ``all``, ``and``, ``or`` and
``not`` in the functions that make the rules. Each change is made in memory, by an import hook in
a process of its own; no file is touched. The process runs the fast tests that should notice:
the kept answers (`scripts.regression`), ``tests/unit/test_policy.py`` without its comparison of
literals (that one notices every constant by construction), and the unit tests of that module.

It prints the share noticed, and each change that was not with the reason given for it in
``tests/survivors.toml``; below `WANTED` it exits with 1. ``--only TEXT`` takes the changes whose
name contains the text, ``--every 6`` each sixth of them, ``--after 500`` what is left of a run that
was stopped; ``--list`` names them all.
"""

from __future__ import annotations

import argparse
import ast
import copy
import importlib.abc
import importlib.machinery
import importlib.util
import io
import json
import os
import re
import select
import signal
import sys
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import redirect_stdout
from dataclasses import dataclass, field, is_dataclass
from dataclasses import replace as with_fields
from functools import cache
from itertools import zip_longest
from pathlib import Path
from types import CodeType, ModuleType
from typing import Any, TypeVar

import numpy as np
import pytest

from scripts.runtime import ROOT
from scripts.say import Failure, step

TABLE = ROOT / "tests" / "policy.toml"
SURVIVORS = ROOT / "tests" / "survivors.toml"
POLICY = "tests/unit/test_policy.py"
STATIC = (
    "test_constant_is_as_sourced",
    "test_no_constant_is_forgotten",
    "test_every_reason_is_needed",
)
"""Tests of the table itself: the first of them notices every constant by construction."""
DESELECTED = tuple(f"--deselect={POLICY}::{name}" for name in STATIC)
ANSWERS = "the kept answers"
WANTED = 0.95
"""Share of the changes that the tests must notice."""
LONGEST = 200.0
"""Seconds of computing after which a changed program counts as noticed: it does not end."""

BOUNDARY = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}
REVERSED = {
    ast.Lt: ast.GtE,
    ast.LtE: ast.Gt,
    ast.Gt: ast.LtE,
    ast.GtE: ast.Lt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
SWAPPED = {
    "min": "max",
    "max": "min",
    "any": "all",
    "all": "any",
    "minimum": "maximum",
    "maximum": "minimum",
    "argmin": "argmax",
    "argmax": "argmin",
}


@dataclass(frozen=True)
class Constant:
    """A number of the policy: where it stands, what it must be, what it may be changed to."""

    group: str
    module: str
    name: str
    value: Any
    source: str
    changes: Mapping[str, tuple[str, Any]] = field(hash=False)
    """By "unsafe" and "safe": ("to", value) or ("times", factor)."""

    @property
    def inside(self) -> tuple[str, float] | None:
        """Function and number, for a number written inside a function."""
        found = re.fullmatch(r"([\w.]+)\(([\d.e+-]+)\)", self.name)
        return (found[1], float(found[2])) if found else None

    @property
    def path(self) -> tuple[str, ...]:
        """Name of the constant and the keys or fields that lead to the number."""
        return tuple(self.name.split("."))


@dataclass(frozen=True)
class Mutant:
    """One change of one module."""

    name: str
    group: str
    module: str
    kind: str
    """ "constant", "literal" or "rule"."""
    what: Mapping[str, Any] = field(hash=False)


@cache
def table() -> dict[str, Any]:
    """Return the table of the policy."""
    return tomllib.loads(TABLE.read_text(encoding="utf-8"))


def constants() -> tuple[Constant, ...]:
    """Return every constant of the table."""
    out = []
    for group, named in table()["constants"].items():
        for name, row in named.items():
            changes: dict[str, tuple[str, Any]] = {}
            for place, side in enumerate(("unsafe", "safe")):
                if row.get("only", side) != side:
                    continue
                if side in row:
                    changes[side] = ("to", row[side])
                elif "times" in row:
                    changes[side] = ("times", row["times"][place])
            module = table()["modules"][group]
            out.append(Constant(group, module, name, row["value"], row["source"], changes))
    return tuple(out)


def reached(module: ModuleType, path: Sequence[str]) -> Any:
    """Return what a path of names, keys and fields leads to.

    >>> from types import SimpleNamespace as Made
    >>> reached(Made(A={"b": Made(c=3.0)}), ("A", "b", "c"))
    3.0
    """
    found = getattr(module, path[0])
    for part in path[1:]:
        if isinstance(found, Mapping):
            found = {str(key): value for key, value in found.items()}[part]
        else:
            found = getattr(found, part)
    return found


def changed(value: Any, path: Sequence[str], how: Sequence[Any]) -> Any:
    """Return a value with what the path leads to changed; its type is kept.

    >>> changed({"a": (1.0, 2.0)}, ["a"], ["times", 2.0])
    {'a': (2.0, 4.0)}
    >>> changed(3.0, [], ["to", 5.0])
    5.0
    """
    if path:
        first, *rest = path
        if isinstance(value, Mapping):
            return {
                key: changed(item, rest, how) if str(key) == first else item
                for key, item in value.items()
            }
        assert is_dataclass(value)
        assert not isinstance(value, type)
        return with_fields(value, **{first: changed(getattr(value, first), rest, how)})
    verb, by = how
    if isinstance(value, Mapping):
        if verb == "times":
            return {key: changed(item, (), how) for key, item in value.items()}
        return {key: changed(item, (), ("to", by[str(key)])) for key, item in value.items()}
    if verb == "times":
        if isinstance(value, tuple | list):
            return type(value)(changed(item, (), how) for item in value)
        return value * by
    if isinstance(value, np.ndarray):
        return np.array(by, dtype=value.dtype)
    return tuple(by) if isinstance(value, tuple) else by


# --- changes of the syntax tree ---------------------------------------------------------------


def _source(module: str) -> ast.Module:
    """Return a module's syntax tree without importing it."""
    path = ROOT.joinpath(*module.split("."))
    path = path / "__init__.py" if path.is_dir() else path.with_suffix(".py")
    if not path.exists():
        raise Failure(f"{TABLE.name} names a module that is not there: {module}")
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


def function(tree: ast.Module, name: str) -> ast.FunctionDef:
    """Return a function, or a class's method named ``Class.method``, of a module.

    Raises
    ------
    Failure
        For a function there is not: the table must follow the code.
    """
    body: Sequence[ast.stmt] = tree.body
    found: ast.stmt | None = None
    for part in name.split("."):
        found = next(
            (n for n in body if isinstance(n, ast.FunctionDef | ast.ClassDef) and n.name == part),
            None,
        )
        body = found.body if found is not None else ()
    if not isinstance(found, ast.FunctionDef):
        raise Failure(f"{TABLE.name} names a function that is not there: {name}")
    return found


def literals(tree: ast.Module, name: str, number: float) -> list[ast.Constant]:
    """Return the places of a number in a function."""
    return [
        node
        for node in ast.walk(function(tree, name))
        if isinstance(node, ast.Constant)
        and type(node.value) in (int, float)
        and node.value == number
    ]


def turns(tree: ast.AST) -> Iterator[tuple[ast.AST, ast.AST]]:
    """Yield each place in a function that can be turned, and what it would be turned to.

    >>> rule = ast.parse("a < 1 and min(b)")
    >>> [ast.unparse(new) for _, new in turns(rule)]
    ['a < 1 or min(b)', 'a <= 1', 'a >= 1', 'max(b)']
    """
    for node in ast.walk(tree):
        if isinstance(node, ast.Compare):
            for place, op in enumerate(node.ops):
                for kinds in (BOUNDARY, REVERSED):
                    if type(op) in kinds:
                        new = copy.deepcopy(node)
                        new.ops[place] = kinds[type(op)]()
                        yield node, new
        elif isinstance(node, ast.BoolOp):
            other = ast.And() if isinstance(node.op, ast.Or) else ast.Or()
            yield node, ast.BoolOp(op=other, values=node.values)
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            yield node, node.operand
        elif isinstance(node, ast.Call):
            called = node.func
            if isinstance(called, ast.Name) and called.id in SWAPPED:
                swapped: ast.expr = ast.Name(SWAPPED[called.id], ctx=ast.Load())
            elif isinstance(called, ast.Attribute) and called.attr in SWAPPED:
                swapped = ast.Attribute(called.value, SWAPPED[called.attr], ctx=ast.Load())
            else:
                continue
            yield node, ast.Call(func=swapped, args=node.args, keywords=node.keywords)


def names_of(node: ast.stmt) -> list[str]:
    """Return the names that a statement assigns.

    >>> names_of(ast.parse("LOW, HIGH = 0.1, 0.9").body[0])
    ['LOW', 'HIGH']
    """
    targets: list[ast.expr] = []
    if isinstance(node, ast.Assign):
        targets = node.targets
    elif isinstance(node, ast.AnnAssign) and node.value is not None:
        targets = [node.target]
    return [n.id for target in targets for n in ast.walk(target) if isinstance(n, ast.Name)]


class _Put(ast.NodeTransformer):
    """Put one node in another's place."""

    def __init__(self, old: ast.AST, new: ast.AST) -> None:
        self.old, self.new = old, new

    def visit(self, node: ast.AST) -> Any:
        """Replace the node looked for, walk on through any other."""
        return self.new if node is self.old else self.generic_visit(node)


def mutated(tree: ast.Module, kind: str, what: Mapping[str, Any]) -> ast.Module:
    """Return a module's syntax tree with one change made."""
    if kind == "rule":
        old, new = list(turns(function(tree, what["function"])))[what["place"]]
        tree = _Put(old, new).visit(tree)
    elif kind == "literal":
        for number in literals(tree, what["function"], what["number"]):
            number.value = what["to"]
    else:
        first, *rest = what["path"]
        change = f"changed({first}, {rest!r}, {what['how']!r})"
        after = f"{first} = __import__('scripts.mutate').mutate.{change}"
        for place, node in enumerate(tree.body):
            if first in names_of(node):
                tree.body[place + 1 : place + 1] = ast.parse(after).body
                break
        else:
            raise Failure(f"{TABLE.name} names a constant that is not there: {first}")
    return ast.fix_missing_locations(tree)


# --- the list of changes ----------------------------------------------------------------------


def mutants() -> tuple[Mutant, ...]:
    """Return every change, constants first."""
    out = []
    for item in constants():
        for side, how in item.changes.items():
            name = f"{item.group}.{item.name} {side}: {how[0]} {json.dumps(how[1])}"
            if item.inside is not None:
                within, number = item.inside
                to = number * how[1] if how[0] == "times" else how[1]
                what: dict[str, Any] = {"function": within, "number": number, "to": to}
                out.append(Mutant(name, item.group, item.module, "literal", what))
            else:
                what = {"path": item.path, "how": how}
                out.append(Mutant(name, item.group, item.module, "constant", what))
    for group, functions in table()["rules"].items():
        module = table()["modules"][group]
        tree = _source(module)
        for name in functions:
            seen: dict[str, int] = {}
            for place, (old, new) in enumerate(turns(function(tree, name))):
                text = f"{group}.{name}: {ast.unparse(old)} → {ast.unparse(new)}"
                seen[text] = seen.get(text, 0) + 1
                text += f" ({seen[text]})" if seen[text] > 1 else ""
                out.append(Mutant(text, group, module, "rule", {"function": name, "place": place}))
    return tuple(out)


# --- one change, in a process of its own ------------------------------------------------------


class _Changed(importlib.abc.MetaPathFinder):
    """Import one module from a changed syntax tree."""

    def __init__(self, module: str, kind: str, what: Mapping[str, Any]) -> None:
        self.module, self.kind, self.what = module, kind, what

    def find_spec(
        self, name: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        """Return the module's own place with a loader that changes it; None for others."""
        if name != self.module:
            return None
        spec = importlib.machinery.PathFinder.find_spec(name, path, target)
        assert spec is not None
        assert spec.origin is not None
        kind, what = self.kind, self.what

        class Loader(importlib.machinery.SourceFileLoader):
            def get_code(self, fullname: str) -> CodeType:
                tree = ast.parse(Path(self.path).read_text(encoding="utf-8"), self.path)
                return compile(mutated(tree, kind, what), self.path, "exec")

        spec.loader = Loader(name, spec.origin)
        return spec


def _pytest(*arguments: str) -> bool:
    """Tell whether tests fail (or cannot even be collected)."""
    quiet = ("-x", "-q", "--no-header", "--tb=no", "-p", "no:cacheprovider", "-p", "no:doctest")
    with redirect_stdout(io.StringIO()):
        return pytest.main([*quiet, "-o", "addopts=--import-mode=importlib", *arguments]) != 0


def answers_changed(first: Sequence[str] = ()) -> bool:
    """Return whether a kept answer changed, of some calculators or of all, in turn."""
    from scripts import regression

    kept = regression.read()
    by_calculator: dict[str, list[regression.Question]] = {}
    for question in regression.questions():
        if not first or question.calculator in first:
            by_calculator.setdefault(question.calculator, []).append(question)
    for together in zip_longest(*by_calculator.values()):
        for question in together:
            if question is not None:
                was = {"answers": {question.name: kept["answers"][question.name]}}
                if regression.compared(was, regression.edition([question])):
                    return True
    return False


def noticed(group: str) -> str:
    """Return what notices that something is wrong with the code as imported; "" for nothing.

    What is quick and near to the change is asked first; the kept answers of every calculator last.
    """
    near = table()["asked"].get(group, ())
    for first in (near, ()):
        try:
            if (first or not near) and answers_changed(first):
                return ANSWERS
        except Exception as problem:  # whatever a changed program raises is noticed by any test
            return f"{ANSWERS} ({type(problem).__name__})"
        if first:
            for path in (POLICY, *table()["tests"].get(group, ())):
                if _pytest(path, *DESELECTED):
                    return str(path)
    return ""


class _TooLong(BaseException):
    """A changed program that does not end; no test can catch it."""


def _fails(name: str) -> str:
    """Return the name of a check that fails even without a change."""
    return name if (answers_changed() if name == ANSWERS else _pytest(name, *DESELECTED)) else ""


def _stop(*_: object) -> None:
    raise _TooLong


def _asked(mutant: Mutant) -> str:
    """Return which check notices a change, run in its own process."""
    signal.signal(signal.SIGPROF, _stop)
    signal.setitimer(signal.ITIMER_PROF, LONGEST)
    sys.meta_path.insert(0, _Changed(mutant.module, mutant.kind, mutant.what))
    try:
        return noticed(mutant.group)
    except _TooLong:
        return "it does not end"


T = TypeVar("T")


def forked(work: Callable[[T], str], tasks: Sequence[T], jobs: int) -> Iterator[tuple[T, str]]:
    """Yield each task with its answer, every one in a fork of this process, some side by side.

    Not by a pool of the standard library: that one forks from a thread of its own, and a child
    could wait for ever for a lock which another thread held at that moment.
    """
    waiting = list(reversed(tasks))
    running: dict[int, tuple[int, T]] = {}
    while waiting or running:
        while waiting and len(running) < jobs:
            task = waiting.pop()
            answers, reply = os.pipe()
            sys.stdout.flush()
            pid = os.fork()
            if pid == 0:
                os.chdir(ROOT)
                try:
                    os.write(reply, json.dumps(work(task)).encode())
                finally:
                    os._exit(0)
            os.close(reply)
            running[answers] = (pid, task)
        ready, _, _ = select.select(list(running), [], [])
        for pipe in ready:
            pid, task = running.pop(pipe)
            with os.fdopen(pipe, "rb") as reader:
                answer = reader.read()
            os.waitpid(pid, 0)
            yield task, str(json.loads(answer)) if answer else "it stops"


def main(arguments: Sequence[str] | None = None) -> int:
    """Try every change; return 1 where too few are noticed."""
    parser = argparse.ArgumentParser(
        prog="python -m scripts.mutate",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--only", default="", help="changes whose name contains this text")
    parser.add_argument("--every", type=int, default=1, help="take only each N-th change")
    parser.add_argument("--after", type=int, default=0, help="leave out the first N changes")
    parser.add_argument("--list", action="store_true", help="name the changes and stop")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="side by side")
    options = parser.parse_args(arguments)
    try:
        every = [mutant for mutant in mutants() if options.only in mutant.name]
        some = every[options.after :: options.every]
        if options.list:
            print("\n".join(mutant.name for mutant in some))
            return 0
        return _run(some, options.jobs, whole=len(some) == len(every) and not options.only)
    except Failure as failure:
        print(failure, file=sys.stderr)
        return 1


def _run(every: Sequence[Mutant], jobs: int, *, whole: bool) -> int:
    reasons: dict[str, str] = tomllib.loads(SURVIVORS.read_text(encoding="utf-8"))["survivors"]
    groups = sorted({mutant.group for mutant in every})
    found: dict[str, str] = {}
    # compiled code is kept, or each fork would compile all of calc and of the tests again
    sys.dont_write_bytecode = False
    # each change in a fork of its own, of a process that has loaded the libraries but not calc
    assert not any(name.split(".")[0] == "calc" for name in sys.modules)
    near = {path for group in groups for path in table()["tests"].get(group, ())}
    step(f"Unchanged, the kept answers and {1 + len(near)} test files must pass")
    for name, failing in forked(_fails, [ANSWERS, POLICY, *sorted(near)], jobs):
        if failing:
            raise Failure(f"Without any change this fails: {name}")
    step(f"Trying {len(every)} changes")
    for number, (mutant, answer) in enumerate(forked(_asked, every, jobs), start=1):
        found[mutant.name] = answer
        if not answer:
            step(f"not noticed: {mutant.name}")
        if number % 50 == 0:
            step(f"{number} tried")
    lost = [mutant for mutant in every if not found[mutant.name]]
    share = 1.0 - len(lost) / len(every) if every else 1.0
    print()
    for kind in ("constant", "literal", "rule"):
        of_kind = [m for m in every if m.kind == kind]
        if of_kind:
            count = sum(bool(found[m.name]) for m in of_kind)
            print(f"{kind}s: {count} of {len(of_kind)} changes noticed")
    only_kept = sum(answer.startswith(ANSWERS) for answer in found.values())
    print(f"of these {only_kept} by the kept answers first")
    for mutant in lost:
        print(f"- not noticed: {mutant.name}\n  {reasons.get(mutant.name, 'NO REASON GIVEN')}")
    if whole:
        for name in reasons.keys() - {mutant.name for mutant in lost}:
            print(f"- {SURVIVORS.name} excuses what is noticed or gone: {name}")
    print(f"Score: {share:.1%} of {len(every)} changes noticed, {WANTED:.0%} wanted")
    return 0 if share >= WANTED else 1


if __name__ == "__main__":
    sys.exit(main())

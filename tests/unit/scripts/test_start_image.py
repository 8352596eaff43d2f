"""What the browser's Python holds once it has started, compared with what answers go on to need."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

from scripts import runtime
from scripts.runtime import IMAGER, ROOT, TERMINAL

# Runs after the script that fills the start image, in the same interpreter. Form k of a calculator
# has the k-th choice of every input that offers choices, so that each is asked once.
QUESTIONS = """
import sys
known, opened = set(sys.modules), []
sys.addaudithook(lambda event, given: opened.append(str(given[0])) if event == "open" else None)
for slug in calculators.SLUGS:
    calculator = calculators.load(slug)
    lists = {item.name: item.allowed for item in calculator.all_inputs if item.allowed}
    usual = {"address": "https://example.org/page/", "tries": "1"}
    usual = {name: text for name, text in usual.items() if name in calculator.known_names}
    # one calculator asks for every material and motor class; a search tries every material each
    # time, and the whole rocket asks the other calculators
    most = 22 if slug == "ply-layup" else 3 if calculator.slow or "rocket" in slug else 8
    for number in range(min(most, max(map(len, lists.values()), default=1))):
        chosen = {name: values[number % len(values)] for name, values in lists.items()}
        json.loads(browser.answer(slug, json.dumps({**usual, **chosen})))
    for item in calculator.all_inputs:
        if item.applies(calculator.read({})[0]) and item.kind != "text":
            browser.answer(slug, json.dumps({item.name: "no such thing"}))
    for item in calculator.all_inputs:
        if item.kind == "length":
            browser.convert(slug, item.name, "3 in", "mm")
            break
    for item in calculator.files:
        if item.make == "svg":
            browser.download(slug, json.dumps(usual), item.make)
    print(slug, len(lists), flush=True)
late = sorted(set(sys.modules) - known)
print("late:", *late, *opened, flush=True)
"""


def test_no_answer_imports_or_reads_anything_after_the_start(tmp_path: Path) -> None:
    """The memory image has no files behind it: a module or file it lacks cannot be had offline."""
    shutil.copytree(
        ROOT / "calc",
        tmp_path / "calc",
        ignore=lambda _, names: [name for name in names if name in (TERMINAL.name, "__main__.py")],
    )
    # As it travels: the encoder alone.
    segno = tmp_path / "segno"
    segno.mkdir()
    (segno / "__init__.py").touch()
    for path in runtime.qr_encoder():
        shutil.copyfile(path, segno / path.name)
    script = tmp_path / "questions.py"
    script.write_text(IMAGER[1].read_text(encoding="utf-8") + QUESTIONS, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-B", str(script)],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1] == "late:", done.stdout

"""Every command on a bad day: the right status, one sentence, never a traceback. What was tried is in ``bad_day``."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from random import Random
from typing import Any

import pytest

from app.case.store import CaseStore
from tests.cli.every_command import LINES, fill

if sys.platform == "win32":
    pytest.skip("needs fork and limits", allow_module_level=True)

from tests.cli.bad_day import CONDITIONS

ROOT = Path(__file__).parents[2]
HARMLESS = (
    "stderr closed",
    "stdout closed",
    "all streams closed",
    "no home, no user",
    "no room at home",
    "names no text, ASCII terminal",
)
"""These hinder nothing that a command has to do."""
SILENT = ("stderr closed", "all streams closed")


def runs(tmp_path: Path, *conditions: str) -> list[dict[str, Any]]:
    """What each command came to under each condition."""
    (tmp_path / "files").mkdir()
    fill(tmp_path / "files")
    command = [sys.executable, "-m", "tests.cli.bad_day", str(tmp_path), *conditions]
    env = {**os.environ, "PYTHONPATH": str(ROOT), "QT_QPA_PLATFORM": "offscreen"}
    done = subprocess.run(command, cwd=ROOT, env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return [json.loads(told) for told in done.stdout.splitlines()]


@pytest.mark.long
def test_every_command_on_every_bad_day(tmp_path: Path) -> None:
    # all of them are some two hundred starts of the program: a bounded run draws a few of the days
    bad = [condition for condition in CONDITIONS if condition != "as usual"]
    most = int(os.environ.get("TWINSLOT_LONG_EXAMPLES", "100")) // 6
    drawn = ("as usual", *Random(4).sample(bad, min(len(bad), max(1, most))))
    found = runs(tmp_path, *drawn)
    assert len(found) == len(LINES) * len(drawn)
    usual = {run["command"]: run["status"] for run in found if run["condition"] == "as usual"}
    assert set(usual.values()) <= {0, 1, 2}
    for run in found:
        what = f"{run['condition']}: {run['command']}: {run['status']} {run['out'][-400:]} {run['err'][-400:]}"
        for words in ("Traceback", "did not foresee", "Exception ignored"):
            assert words not in run["out"] + run["err"], what
        assert "\x1b" not in run["out"] + run["err"], what
        if run["condition"] in HARMLESS:
            assert run["status"] == usual[run["command"]], what
        else:
            assert run["status"] in (usual[run["command"]], 2), what
        if run["status"] != usual[run["command"]]:
            last = run["err"].strip().splitlines()[-1]
            assert last.startswith("twinslot: "), what
            assert last.endswith("."), what
        if run["condition"] in SILENT:
            assert run["err"] == "", what


def test_with_streams_closed_nothing_is_written_into_the_files_that_are_opened(tmp_path: Path) -> None:
    """The next file that is opened would take the number of the closed stream."""
    case = tmp_path / "case.twinslot"
    CaseStore.open(case).close()
    good = tmp_path / "good.csv"
    good.write_text("# Sample rate: 1 MHz\nCLK,B\n" + "0,1\n1,0\n" * 50, "utf-8")
    script = (
        "import os, sys\nfor n in (0, 1, 2): os.close(n)\nsys.stdin = sys.stdout = sys.stderr = None\n"
        "from app.__main__ import main\nstatus = main(sys.argv[1:])\nos.write(1, b'x' * 50)\nos.write(2, b'x' * 50)\n"
        "os._exit(status)"
    )
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-c", script, "attach", str(case), str(good), "--side", "good", "--new"]
    assert subprocess.run(command, env=env, check=False).returncode == 0
    assert case.read_bytes().startswith(b"SQLite format 3")
    assert b"x" * 50 not in case.read_bytes() + good.read_bytes()

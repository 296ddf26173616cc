"""Small captures with one planted fault, and a window with settings of its own."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import pytest

pytest.importorskip("PySide6")

from PySide6.QtWidgets import QApplication

from app.model.settings import Settings
from app.shell.window import Window
from tests.gui.backplane_bench import Bench
from tests.gui.remembered import Remembered
from tests.gui.shared import SharedWindows, looked_at, own_folders, until, worked_in
from tracecore import comparison as comparisons
from tracecore.circuit.probe_sheet import read_probe_sheet
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.readers import read_capture

SHEET = (
    "channel,signal,slot,pin,active,family,bus,bit,driver,note\n"
    "MCLK,MCLK,7,A01,high,S,,,2-C04,\n"
    + "".join(f"c{k},D0{k},7,B0{k + 1},high,LS,D,{k},6-B{19 + k},\n" for k in range(4))
    + "STB,STB,7,A07,low,LS,,,6-A11,\n"
)
FAULT_CYCLE = 399
"""From this good cycle on D03 stays low on the suspect side; cycle 0 begins at the first rising edge, at row 10."""
SHIFT = 12
"""The suspect's capture begins this many cycles later."""


def _rows(cycles: int) -> list[list[int]]:
    chance = random.Random(7)
    rows, word, strobe = [], 0, 1
    for _ in range(cycles):
        for sample in range(10):
            if sample == 1:
                word, strobe = chance.randrange(16), chance.randrange(2)
            rows.append([int(sample < 5), *((word >> bit) & 1 for bit in range(4)), strobe])
    return rows


def _write(path: Path, rows: list[list[int]]) -> Path:
    lines = ["# Sample rate: 24 MHz", "MCLK,c0,c1,c2,c3,STB", *(",".join(map(str, row)) for row in rows)]
    path.write_text("\n".join(lines) + "\n", "utf-8")
    return path


@pytest.fixture(scope="module")
def same_compared_once() -> Iterator[None]:
    """The windows of the tests that ask for it share the comparisons of the same captures."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(comparisons, "compare", Remembered(compare))
        yield


@pytest.fixture(scope="session")
def bench_files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """good.csv, bad.csv (D03 stuck low from FAULT_CYCLE), broken.csv (a torn row), sheet.csv."""
    folder = tmp_path_factory.mktemp("session")
    rows = _rows(900)
    bad = [[*row[:4], 0 if i >= (FAULT_CYCLE + 1) * 10 else row[4], row[5]] for i, row in enumerate(rows)][SHIFT * 10 :]
    torn = [row if i != 50 else row[:3] for i, row in enumerate(rows[:200])]
    (folder / "sheet.csv").write_text(SHEET, "utf-8")
    return {
        "good": _write(folder / "good.csv", rows),
        "bad": _write(folder / "bad.csv", bad),
        "broken": _write(folder / "broken.csv", torn),
        "sheet": folder / "sheet.csv",
    }


@pytest.fixture
def window(qtbot, tmp_path: Path) -> Iterator[Window]:
    """An empty window, closed afterwards."""
    made = Window(Settings(tmp_path / "settings.ini"))
    qtbot.addWidget(made)
    made.resize(1280, 720)
    made.show()
    yield made
    made.close()


@pytest.fixture
def compared(qtbot, window: Window, bench_files: dict[str, Path]) -> Window:
    """A window with the planted fault compared and Compare open."""
    window.files.open_case([bench_files["good"]], [bench_files["bad"]], bench_files["sheet"], title="Test case")
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=120_000)
    return window


@pytest.fixture(scope="module")
def shared_windows(qapp, tmp_path_factory: pytest.TempPathFactory) -> Iterator[SharedWindows]:
    """Windows that tests of one module look at in turn."""
    folder = tmp_path_factory.mktemp("shared")
    with own_folders(folder):
        shared = SharedWindows(folder)
        yield shared
        shared.close()


@pytest.fixture(scope="module")
def compared_once(shared_windows: SharedWindows, bench_files: dict[str, Path]) -> Window:
    """As ``compared``, once for a module."""
    window = shared_windows.window()
    window.files.open_case([bench_files["good"]], [bench_files["bad"]], bench_files["sheet"], title="Test case")
    until(lambda: window.session.current and window.jobs.idle)
    return window


@pytest.fixture
def seen_case(compared_once: Window) -> Iterator[Window]:
    """A window with the planted fault compared and Compare open, for a test that leaves the case as it is."""
    with looked_at(compared_once) as window:
        yield window


@pytest.fixture
def worked_case(compared_once: Window) -> Iterator[Window]:
    """The same with a Compare page of its own, for a test that needs no new comparison and keeps no file."""
    with worked_in(compared_once, "compare") as window:
        yield window


@pytest.fixture(scope="session")
def bench_comparison(bench_files: dict[str, Path]) -> Comparison:
    """The planted fault compared, without a window."""
    good, suspect = (read_capture(bench_files[name]) for name in ("good", "bad"))
    return compare(CompareRequest((good,), (suspect,), read_probe_sheet(bench_files["sheet"]), clock="MCLK"))


@pytest.fixture
def bench(qtbot, bench_comparison: Comparison, tmp_path: Path) -> Iterator[Bench]:
    """The Backplane page alone, shown and at rest."""
    made = Bench(bench_comparison, tmp_path)
    qtbot.addWidget(made.whole)
    made.whole.resize(1100, 620)
    made.whole.show()
    settle(3)
    yield made
    made.jobs.stop_all()


def settle(passes: int = 20) -> None:
    """Lets the layouts come to rest: they find their sizes in several passes, however slow the machine."""
    for _ in range(passes):
        QApplication.sendPostedEvents()
        QApplication.processEvents()

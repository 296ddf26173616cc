"""A scope and a logic capture of one run are one capture of the case: found, told, kept, read again, parted by undo."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("PySide6")

from app.case.lead_corrections import MendLeads
from app.case.shelf import Shelf
from app.model.capture_files import read_one
from app.model.join_files import join_files, joined_held
from app.shell.window import Window
from demo_traces import CASES
from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.errors import RequestError
from tracecore.lineup.one_run import find_join
from tracecore.measure.families import family
from tracecore.measure.levels import digitise
from tracecore.readers import read_capture
from tracecore.readers.settings import ReadSettings

CASE = CASES["contact"]
SHIFT_PS = 3_000_000


def write_logic(path: Path) -> Path:
    """The clock and two signals of the good scope capture as a logic instrument sees them, 3 us later."""
    scope = read_capture(CASE.good[0])
    both = {c: digitise(scope.analog[c], family("74LS")).digital for c in ("CH1", "CH2", "CH3")}
    times = np.unique(np.concatenate([trace.times_ps for trace in both.values()]))
    rows = zip(((times + SHIFT_PS) // 1000).tolist(), *(t.level_at(times).tolist() for t in both.values()), strict=True)
    lines = ["Time [ns],L1,L2,L3", *(",".join(map(str, row)) for row in rows)]
    path.write_text("\n".join(lines) + "\n", "utf-8")
    return path


def test_the_signal_that_both_hold_is_found_and_told(qtbot, window: Window, tmp_path: Path) -> None:
    session, files = window.session, window.files
    files.keep_as(tmp_path / "one.twinslot")
    logic = write_logic(tmp_path / "logic.csv")
    files.open_captures("good", [logic])
    qtbot.waitUntil(lambda: len(session.case.good.captures) == 1 and window.jobs.idle, timeout=120_000)
    told: list[str] = []
    files.told.connect(told.append)
    join_files(files, "good", 0, CASE.good[0])
    qtbot.waitUntil(lambda: bool(session.case.good.captures[0].scope) and window.jobs.idle, timeout=120_000)
    (held,) = session.case.good.captures
    # the pin that both clips sit on keeps its logic, and its volts beside that
    own, other = held.through
    assert set(held.channels) == {"L1", "L2", "L3", "CH1", "CH2", "CH3", "CH4", f"{own} (volts)"} - {other}
    assert held.through in (("L2", "CH2"), ("L3", "CH3"))
    assert any(line.startswith(f"Joined through {held.through[0]}: ") and "offset +" in line for line in told)
    moved = session.shelf.load(held).analog["CH4"].start_ps - read_capture(CASE.good[0]).analog["CH4"].start_ps
    assert abs(moved - SHIFT_PS) <= 40_000
    # it is in the file, both captures' bytes with it, and reads as it did
    capture = session.shelf.load(held)
    assert session.store.read().good.captures[0] == held
    assert session.store.has_blob(held.sha256)
    assert session.store.has_blob(held.scope.sha256)
    fresh = Shelf(session.store)
    second = fresh.load(held)
    assert second.channels == capture.channels
    assert second.analog["CH4"].start_ps == capture.analog["CH4"].start_ps
    session.undo()
    assert session.case.good.captures[0].scope is None


def test_two_of_a_kind_are_not_joined() -> None:
    one, other = (read_one(path, ReadSettings(), lambda share, what: None) for path in (CASE.good[0], CASE.suspect[0]))
    with pytest.raises(RequestError, match="expected a logic capture and a scope capture of one run"):
        joined_held(one, other, ProbeSheet())


def test_the_even_clock_is_taken_only_where_nothing_else_serves(tmp_path: Path) -> None:
    logic, scope = read_capture(write_logic(tmp_path / "logic.csv")), read_capture(CASE.good[0])
    found = find_join(logic, scope, {})
    assert found.every_ps == 0
    clock = {"L1": logic.digital["L1"]}
    even = find_join(replace(logic, digital=clock), scope, {"L1": "MCLK", "CH1": "MCLK"})
    assert even.channels == ("L1", "CH1")
    assert even.every_ps == pytest.approx(416_000, abs=2_000)
    assert "fits too, and the" in even.sentence


def test_a_swap_said_before_holds_once_and_the_answer_is_made_anew(qtbot, window: Window, tmp_path: Path) -> None:
    session, files = window.session, window.files
    logic = write_logic(tmp_path / "logic.csv")
    files.open_captures("good", [logic])
    qtbot.waitUntil(lambda: len(session.case.good.captures) == 1 and window.jobs.idle, timeout=120_000)
    session.change(MendLeads(session.case.good.captures[0].key, (("L2", "L3"), ("L3", "L2"))))
    before = session.case.question
    join_files(files, "good", 0, CASE.good[0])
    qtbot.waitUntil(lambda: bool(session.case.good.captures[0].scope) and window.jobs.idle, timeout=120_000)
    (held,) = session.case.good.captures
    assert (held.swaps, session.case.question != before) == ((("L2", "L3"),), True)
    plain = read_capture(logic)
    shown = session.shelf.load(held)
    assert shown.digital["L2"].times_ps.tolist() == plain.digital["L3"].times_ps.tolist()

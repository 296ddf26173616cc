"""The window's state without a window."""

from __future__ import annotations

import threading

import numpy as np
import pytest

from app.case.changes import AddCaptures, RemoveCapture, SetClock, SetOffset, SetSheet, ShowCapture
from app.case.shelf import hold
from app.case.values import HeldCapture
from app.model.session import Session
from tracecore.capture import Capture, digital_trace
from tracecore.circuit.probe_sheet import Probe, ProbeSheet
from tracecore.errors import RequestError


def bare_capture(name: str) -> Capture:
    """One channel that moves twice."""
    trace = digital_trace(np.array([0, 10, 20]), np.array([0, 1, 0], np.uint8), 30)
    return Capture(name, {"0": trace}, {}, 10, "sampled rows")


def capture(name: str) -> HeldCapture:
    """The same as a case holds it."""
    return hold(bare_capture(name))


def test_undo_and_redo_walk_the_same_values() -> None:
    session = Session()
    cases = [session.case]
    for change in (
        AddCaptures("good", (capture("a"), capture("b"))),
        ShowCapture("good", 1),
        SetOffset(5),
        SetClock("X"),
    ):
        session.change(change)
        cases.append(session.case)
    assert session.case.settings.offset is None
    for expected in reversed(cases[:-1]):
        session.undo()
        assert session.case == expected
    assert session.undo() == ""
    for expected in cases[1:]:
        session.redo()
        assert session.case == expected


def test_a_new_change_forgets_what_was_taken_back() -> None:
    session = Session()
    session.change(SetOffset(5))
    session.undo()
    session.change(SetOffset(6))
    assert session.can_redo == ""


@pytest.mark.parametrize(
    ("shown", "removed", "left"), [(0, 0, "b"), (1, 0, "b"), (2, 2, "b"), (2, 0, "c"), (0, 2, "a")]
)
def test_removing_keeps_the_shown_capture_or_takes_a_neighbour(shown: int, removed: int, left: str) -> None:
    session = Session()
    session.change(AddCaptures("suspect", tuple(capture(n) for n in "abc")))
    session.change(ShowCapture("suspect", shown))
    session.change(RemoveCapture("suspect", removed))
    assert session.case.suspect.shown_capture.name == left


def test_the_shown_pair_comes_first_in_the_request() -> None:
    session = Session()
    held = {n: capture(n) for n in "abcs"}
    for name, one in held.items():
        session.shelf.add(one, bare_capture(name))
    session.change(AddCaptures("good", tuple(held[n] for n in "abc")))
    session.change(AddCaptures("suspect", (held["s"],)))
    session.change(ShowCapture("good", 1))
    assert [c.name for c in session.request().good] == ["b", "a", "c"]


def test_sheet_cells_are_edited_through_the_bench(qtbot) -> None:
    from app.model.sheet_table import SheetTable

    session = Session()
    session.change(SetSheet(ProbeSheet((Probe("0", "MCLK"), Probe("1", "D00")))))
    table = SheetTable(session)
    assert table.setData(table.index(1, 2), "7-B04")
    assert (session.case.sheet.probe("1").slot, session.case.sheet.probe("1").pin) == ("7", "B04")
    assert table.data(table.index(1, 2), 0) == "7-B04"
    session.undo()
    assert table.data(table.index(1, 2), 0) == "–"


@pytest.mark.parametrize(
    ("column", "text", "said"),
    [
        (1, "MCLK", "a second time"),
        (1, "", "empty"),
        (3, "maybe", "high or low"),
        (6, "x", "whole number"),
        (4, "CMOS9", "not known"),
    ],
)
def test_a_cell_that_cannot_be_taken_is_refused_in_words(qtbot, column: int, text: str, said: str) -> None:
    from app.model.sheet_table import SheetTable

    session = Session()
    session.change(SetSheet(ProbeSheet((Probe("0", "MCLK"), Probe("1", "D00")))))
    table, heard = SheetTable(session), []
    table.refused.connect(heard.append)
    before = session.case
    assert not table.setData(table.index(1, column), text)
    assert said in heard[0]
    assert session.case is before


def test_only_the_newest_request_is_answered(qtbot) -> None:
    from app.model.jobs import Jobs

    jobs, answers, gate = Jobs(), [], threading.Event()

    def slow(tell):
        gate.wait(10)
        return "old"

    jobs.request("compare", slow, answers.append, answers.append)
    jobs.request("compare", lambda tell: "new", answers.append, answers.append)
    qtbot.waitUntil(lambda: bool(answers), timeout=120_000)
    gate.set()
    jobs.stop_all()
    qtbot.wait(20)
    assert answers == ["new"]


def test_trouble_comes_back_as_one_sentence(qtbot) -> None:
    from app.model.jobs import Jobs

    jobs, answers, troubles = Jobs(), [], []

    def bad(tell):
        raise RequestError("No.")

    jobs.request("read", bad, answers.append, troubles.append)
    qtbot.waitUntil(lambda: bool(troubles), timeout=120_000)
    assert (answers, troubles) == ([], ["No."])
    jobs.stop_all()


def test_a_stopped_job_says_nothing_more(qtbot) -> None:
    from app.model.jobs import Jobs

    jobs, answers, entered = Jobs(), [], threading.Event()

    def endless(tell):
        entered.set()
        while True:
            tell(0.5, "working")

    jobs.request("compare", endless, answers.append, answers.append)
    assert entered.wait(10)
    jobs.stop_all()
    qtbot.wait(20)
    assert answers == []
    assert jobs.idle

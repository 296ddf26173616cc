"""Marks as stretches of time: where they lie, how they are found, and where their tags stand."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.case.values import Mark
from app.widgets.traces.cursor_pair import Cursor, CursorPair
from app.widgets.traces.mark_spans import (
    mark_of_cursors,
    mark_of_cycle,
    mark_spans,
    matches,
    nearby,
    parse_signals,
    place_tags,
    place_words,
    tag_words,
)
from app.widgets.traces.time_axis import TimeAxis
from app.widgets.traces.trace_rows import View
from tests.widgets.hand_built import CYCLE_PS, CYCLES

EDGES = np.arange(CYCLES + 1, dtype=np.int64) * CYCLE_PS
FINDING = Mark(1, "finding", "D03 stays low", 13, 13, ("D03",), author="R.", at="2026-02-03T11:20:00+01:00")
QUESTION = Mark(2, "question", "Is ACK late, or MCLK early?", 10, 12, ("ACK", "MCLK"), "suspect")
READING = Mark(3, "reference", "", 20, 20, (), "both", 20 * CYCLE_PS + 5, 20 * CYCLE_PS + 170_005)


def axis() -> TimeAxis:
    made = TimeAxis()
    made.edges_ps, made.span = EDGES, (0, CYCLES * CYCLE_PS)
    made.set_width(800)
    made.fit()
    return made


def test_a_mark_covers_its_cycles_and_one_from_cursors_its_exact_times() -> None:
    spans = mark_spans((READING, FINDING, QUESTION), EDGES)
    assert [s.mark.id for s in spans] == [2, 1, 3]
    assert [(s.start_ps, s.stop_ps) for s in spans] == [
        (10 * CYCLE_PS, 13 * CYCLE_PS),
        (13 * CYCLE_PS, 14 * CYCLE_PS),
        (20 * CYCLE_PS + 5, 20 * CYCLE_PS + 170_005),
    ]


def test_a_mark_beyond_the_capture_has_no_place_and_one_over_its_end_is_cut() -> None:
    beyond = replace(FINDING, first_cycle=CYCLES, last_cycle=CYCLES + 3)
    over = replace(FINDING, last_cycle=CYCLES + 9)
    assert mark_spans((beyond,), EDGES) == ()
    assert mark_spans((over,), EDGES)[0].stop_ps == CYCLES * CYCLE_PS
    assert mark_spans((FINDING,), np.empty(0, np.int64)) == ()


@pytest.mark.parametrize(
    ("text", "kind", "found"),
    [
        ("", "", [1, 2, 3]),
        ("d03", "", [1]),
        ("late ACK", "", [2]),
        ("13", "", [1]),
        ("", "reference", [3]),
        ("suspect side", "", [2]),
        ("R.", "finding", [1]),
        ("nobody", "", []),
    ],
)
def test_marks_are_found_by_every_word_and_by_kind(text: str, kind: str, found: list[int]) -> None:
    assert [m.id for m in (FINDING, QUESTION, READING) if matches(m, text, kind)] == found


def test_a_place_reads_as_cycles_and_a_delta_as_time() -> None:
    assert place_words(FINDING) == "cycle 13"
    assert place_words(QUESTION) == "cycles 10 to 12"
    assert place_words(READING) == "cycle 20 · 170 ns"


def test_a_delta_keeps_both_cursors_in_either_order() -> None:
    a = Cursor(10 * CYCLE_PS + 40_000, "good", "ACK")
    b = Cursor(12 * CYCLE_PS + 210_000, "suspect", "ACK")
    for pair in (CursorPair(a, b), CursorPair(b, a)):
        mark = mark_of_cursors(pair, axis(), "D03")
        assert mark is not None
        assert (mark.start_ps, mark.stop_ps) == (a.at_ps, b.at_ps)
        assert (mark.first_cycle, mark.last_cycle) == (10, 12)
        assert (mark.signals, mark.side) == (("ACK",), "both")
    one_side = mark_of_cursors(CursorPair(a, replace(a, at_ps=a.at_ps + CYCLE_PS)), axis(), None)
    assert one_side is not None
    assert one_side.side == "good"


def test_a_delta_that_ends_on_an_edge_does_not_take_the_next_cycle_in() -> None:
    mark = mark_of_cursors(CursorPair(Cursor(10 * CYCLE_PS), Cursor(11 * CYCLE_PS)), axis(), "D03")
    assert mark is not None
    assert (mark.first_cycle, mark.last_cycle, mark.signals) == (10, 10, ("D03",))


def test_cursors_outside_the_cycles_make_no_mark() -> None:
    assert mark_of_cursors(CursorPair(Cursor(-5), Cursor(CYCLE_PS)), axis(), None) is None
    assert mark_of_cursors(CursorPair(Cursor(5), None), axis(), None) is None
    assert mark_of_cycle(7, None).signals == ()


def test_signals_are_typed_in_any_case_and_a_wrong_one_is_named() -> None:
    assert parse_signals(" ack  d03,ACK", ["ACK", "D03"]) == ("ACK", "D03")
    assert parse_signals("", ["ACK"]) == ()
    with pytest.raises(ValueError, match="D33 is no signal of this comparison"):
        parse_signals("D33", ["ACK", "D03"])


def test_next_and_previous_go_by_time_and_stop_at_the_ends() -> None:
    spans = mark_spans((READING, FINDING, QUESTION), EDGES)

    def number(chosen: int | None, at: int, forward: bool) -> int | None:
        found = nearby(spans, chosen, at, forward)
        return found.mark.id if found is not None else None

    assert [number(k, 0, True) for k in (2, 1, 3)] == [1, 3, None]
    assert [number(k, 0, False) for k in (2, 1, 3)] == [None, 2, 1]
    assert number(None, 13 * CYCLE_PS, True) == 1
    assert number(None, 15 * CYCLE_PS, False) == 1
    assert number(None, 30 * CYCLE_PS, True) is None


# ---- tags


def letters(words: str) -> float:
    """Ten pixels a letter, and ten beside them."""
    return 10.0 * len(words) + 10


@given(
    st.lists(st.tuples(st.integers(0, CYCLES - 1), st.integers(0, 5)), max_size=25),
    st.integers(0, CYCLES * CYCLE_PS),
    st.integers(200, 40_000),
    st.integers(120, 900),
    st.integers(0, 26),
)
def test_no_tag_covers_another_and_none_is_lost(
    places: list[tuple[int, int]], t0: int, ps_per_px: int, width: int, chosen: int
) -> None:
    view = View(t0, ps_per_px, width)
    marks = [Mark(i, "question", "a note", k, k + more) for i, (k, more) in enumerate(places, start=1)]
    spans = mark_spans(marks, EDGES)
    tags = place_tags(spans, view, chosen, letters, letters, (40, 200))
    for one, other in pairwise(tags):
        assert one.left + one.width < other.left
    assert all(tag.left >= 0 and tag.left + tag.width <= width for tag in tags)
    held = [span.mark.id for tag in tags for span in tag.spans]
    assert held == [span.mark.id for span in spans if span.within(view)]


def test_far_marks_have_tags_of_their_own_and_near_ones_a_count() -> None:
    marks = [Mark(i, "question", "", k, k) for i, k in ((1, 5), (2, 6), (3, 30), (4, 5))]
    spans = mark_spans(marks, EDGES)
    wide = View(0, CYCLES * CYCLE_PS // 200, 200)
    tags = place_tags(spans, wide, None, letters, letters, (40, 200))
    assert [tag.words for tag in tags] == ["3 marks", "3"]
    chosen = place_tags(spans, wide, 2, letters, letters, (40, 200))
    assert chosen[0].words == "2 +2"
    assert chosen[0].holds(2)
    assert tag_words(spans[-1:], None) == "3"


def test_a_note_follows_its_number_where_there_is_room() -> None:
    spans = mark_spans((FINDING, READING), EDGES)
    roomy = place_tags(spans, View(0, 4000, 4000), None, letters, letters, (40, 200))
    assert [tag.note for tag in roomy] == ["D03 stays low", ""]
    narrow = place_tags(spans, View(13 * CYCLE_PS, CYCLE_PS // 30, 40), None, letters, letters, (40, 200))
    assert [tag.note for tag in narrow] == [""]


def test_view_cursors_and_marks_are_worked_out_without_qt() -> None:
    code = (
        "import sys; sys.modules['PySide6'] = None\n"
        "import app.widgets.traces.time_axis, app.widgets.traces.cursor_pair, "
        "app.widgets.traces.mark_spans, app.pages.compare_words"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)

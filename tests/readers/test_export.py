"""What is exported and read back is identical; other programs' readers see the same."""

from __future__ import annotations

import csv

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.fresh_file import empty_folder
from tracecore.capture import Capture, DigitalTrace
from tracecore.errors import RequestError
from tracecore.export import export_capture
from tracecore.readers import read_capture


def identical(back: Capture, capture: Capture) -> None:
    assert list(back.digital) == list(capture.digital)
    assert back.resolution_ps == capture.resolution_ps
    for name, trace in capture.digital.items():
        assert back.digital[name].times_ps.tolist() == trace.times_ps.tolist()
        assert back.digital[name].levels.tolist() == trace.levels.tolist()
        assert back.digital[name].stop_ps == trace.stop_ps


def built(
    names: list[str], start: int, times: list[list[int]], firsts: list[int], tail: int, resolution: int
) -> Capture:
    stop = max([start, *(t for own in times for t in own)]) + tail
    traces = {}
    for name, own, first in zip(names, times, firsts, strict=True):
        at = np.array([start, *own], np.int64)
        levels = ((first + np.arange(len(at)) * (1 + first % 2)) % 3).astype(np.uint8)
        traces[name] = DigitalTrace(at, levels, stop)
    return Capture("made", traces, {}, resolution, "test")


@st.composite
def captures(draw: st.DrawFn) -> Capture:
    letters = st.text(st.sampled_from('AB01 _-+,;."[]()#%\\µ$'), min_size=1, max_size=6).map(str.strip).filter(bool)
    names = draw(st.lists(letters, min_size=1, max_size=5, unique=True))
    start = draw(st.sampled_from([0, -7, 9, -123_456, 10**15]))
    steps = st.lists(st.integers(1, 2000), max_size=12).map(lambda s: np.cumsum(s).tolist())
    times = [[start + t for t in draw(steps)] for _ in names]
    firsts = draw(st.lists(st.integers(0, 2), min_size=len(names), max_size=len(names)))
    return built(names, start, times, firsts, draw(st.sampled_from([0, 1, 500])), draw(st.integers(1, 50_000)))


@pytest.mark.parametrize("form", ["rows", "dump"])
def test_what_is_exported_reads_back_identical(form):
    @settings(max_examples=80, deadline=None)
    @given(captures())
    def law(capture):
        path = empty_folder() / "made"
        assert export_capture(capture, path, form) == ()
        identical(read_capture(path), capture)
        assert [p.name for p in path.parent.iterdir()] == ["made"]

    law()


def test_pyvcd_reads_the_dump(tmp_path):
    """pyvcd's reader as an outside reference."""
    from vcd.reader import TokenKind, tokenize

    capture = built(["CLK", "A (2)"], -50, [[0, 10, 20], [10]], [0, 1], 5, 10)
    export_capture(capture, tmp_path / "made.vcd", "dump")
    with (tmp_path / "made.vcd").open("rb") as file:
        tokens = list(tokenize(file))
    names = {t.var.id_code: t.var.reference for t in tokens if t.kind is TokenKind.VAR}
    assert names == {"!": "CLK", '"': "A__2_"}
    now, seen = None, []
    for token in tokens:
        if token.kind is TokenKind.CHANGE_TIME:
            now = token.data
        elif token.kind is TokenKind.CHANGE_SCALAR:
            seen.append((now, token.scalar_change.id_code, token.scalar_change.value))
    assert seen == [(0, "!", "0"), (0, '"', "1"), (50, "!", "1"), (60, "!", "x"), (60, '"', "0"), (70, "!", "0")]
    assert now == 75


def test_a_csv_reader_reads_the_rows(tmp_path):
    """The csv module of the standard library reads RFC 4180."""
    export_capture(built(['A "low"', "B, C"], 0, [[5], [5, 9]], [0, 1], 1, 3), tmp_path / "rows.csv", "rows")
    data = (tmp_path / "rows.csv").read_bytes()
    assert data.count(b"\r\n") == data.count(b"\n")
    rows = list(csv.reader(data.decode().splitlines()[1:]))
    assert rows == [["time/ps", 'A "low"', "B, C"], ["0", "0", "1"], ["5", "1", "0"], ["9", "1", "X"], ["10", "1", "X"]]


def test_many_channels_and_times_of_many_widths(tmp_path):
    rng = np.random.default_rng(1)
    times = [np.cumsum(rng.integers(1, 10 ** int(rng.integers(2, 9)), 1000)).tolist() for _ in range(100)]
    capture = built([f"S{i}" for i in range(100)], -400, times, [i % 3 for i in range(100)], 7, 10)
    for form in ("dump", "rows"):
        export_capture(capture, tmp_path / form, form)
        identical(read_capture(tmp_path / form), capture)


def test_what_cannot_be_exported_is_one_sentence(tmp_path):
    capture = built(["A"], 0, [[5]], [0], 1, 3)
    with pytest.raises(RequestError, match="no file form 'book'"):
        export_capture(capture, tmp_path / "a", "book")
    with pytest.raises(RequestError, match="cannot be written"):
        export_capture(capture, tmp_path / "none" / "a", "rows")
    uneven = Capture(
        "made", dict(capture.digital) | {"B": built(["B"], 1, [[5]], [0], 1, 3).digital["B"]}, {}, 3, "test"
    )
    with pytest.raises(RequestError, match="do not begin and end together"):
        export_capture(uneven, tmp_path / "a", "rows")
    with pytest.raises(RequestError, match="Rename it"):
        export_capture(built(["A\nB"], 0, [[5]], [0], 1, 3), tmp_path / "a", "rows")
    assert list(tmp_path.iterdir()) == []

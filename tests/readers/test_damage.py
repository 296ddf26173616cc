"""Damaged rows: the fast reading and a slow one, line by line, agree in data and in the line of the error."""

from __future__ import annotations

import gzip
import os
from unittest import mock

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.fresh_file import fresh_file
from tests.readers.oracle import slow_rows
from tracecore.errors import MalformedCapture
from tracecore.readers import source
from tracecore.readers.plan.plan import CHANGES, SAMPLED, Column, Plan
from tracecore.readers.rows import pieces, row_template, sinks
from tracecore.readers.rows.read_rows import read_rows
from tracecore.readers.rows.row_text import TimeScale

_SMALL = settings(deadline=None, suppress_health_check=list(HealthCheck))
_PRINT = {
    "integers": str,
    "decimals": lambda t: f"{t // 1000}.{t % 1000:03d}",
    "zeros left away": lambda t: repr(t / 1000),
    "exponents": lambda t: f"{t * 1e-3:.6e}",
}


@st.composite
def files(draw: st.DrawFn) -> tuple[bytes, int, bool, int]:
    """Bytes, columns, timed, line of the first row."""
    columns = draw(st.sampled_from([1, 2, 3, 8]))
    timed = draw(st.booleans())
    end = draw(st.sampled_from(["\n", "\r\n"]))
    shown = _PRINT[draw(st.sampled_from(sorted(_PRINT)))]
    random = draw(st.randoms(use_true_random=False))
    count = draw(st.integers(2, 120))
    alphabet = draw(st.sampled_from(["01", "01", "0011X", "01X "])) if timed else "01"
    time, lines = random.choice([0, 0, 995, -40]), []
    cells = ["0"] * columns
    for _ in range(count):
        time += random.choice([0, 1, 7, 90, 100, 1000])
        cells = [random.choice(alphabet).strip() if random.random() < 0.2 else cell for cell in cells]
        stamp = ("-" if time < 0 else "") + shown(abs(time))
        lines.append(",".join([stamp, *cells] if timed else cells))
    closed = "," if draw(st.booleans()) and columns > 1 else ""
    head = "; a heading\nnames\n"
    text = head + end.join(line + closed for line in lines) + draw(st.sampled_from(["", end, end + end]))
    data = bytearray(text.encode())
    first_end = len(head) + len(lines[0]) + len(closed) + len(end)
    if draw(st.booleans()) and len(data) > first_end:
        at = draw(st.integers(first_end, len(data) - 1))
        kind = draw(st.sampled_from(["flip", "drop", "add", "cut"]))
        stray = draw(st.sampled_from(b'01X2,; \n\r.-e9"FA'))
        if kind == "flip":
            data[at] = stray
        elif kind == "drop":
            del data[at]
        elif kind == "add":
            data.insert(at, stray)
        else:
            del data[at:]
    return bytes(data), columns, timed, 3


def _check(case: tuple[bytes, int, bool, int], block: int, packed: bool) -> None:
    data, columns, timed, first_line = case
    wanted = slow_rows(data, columns, timed, 3, first_line)
    times = [Column(0, "Time", "time")] if timed else []
    logic = [Column(i + timed, str(i), "logic") for i in range(columns)]
    plan = Plan(CHANGES if timed else SAMPLED, first_line - 1, columns + timed, (*times, *logic), ",")
    with (
        mock.patch.object(source, "HEAD_BYTES", 300),
        mock.patch.object(pieces, "PIECE", block),
        mock.patch.object(sinks, "_ALTERNATING", sinks._ALTERNATING[:8]),
        mock.patch.object(row_template, "_STRIP", max(1, block // 16)),
        mock.patch.object(row_template, "_QUIET", 1 if block == 300 else 32),
    ):
        opened = source.Source(fresh_file("rows.csv", gzip.compress(data) if packed else data))
        try:
            got = read_rows(opened, plan, TimeScale(3))
            bad_line = None
        except MalformedCapture as error:
            bad_line = error.line
        finally:
            opened.close()
    assert bad_line == wanted.bad_line
    if bad_line is not None:
        return
    entries = tuple(tuple(zip(at.tolist(), level.tolist(), strict=True)) for _, at, level in got.channels)
    assert (entries, got.count) == (wanted.entries, wanted.count)
    assert any("cut short" in note for note in got.notes) == wanted.cut


@settings(_SMALL, max_examples=60)
@given(files(), st.sampled_from([64, 300, 5000]), st.booleans())
def test_damaged_rows_are_read_as_line_by_line(case, block, packed):
    _check(case, block, packed)


@pytest.mark.long
def test_damaged_rows_are_read_as_line_by_line_many_times(request):
    if "long" not in request.config.getoption("markexpr"):
        pytest.skip("takes minutes; asked for with -m long")
    run = given(files(), st.sampled_from([64, 300, 5000, 1 << 20]), st.booleans())(_check)
    settings(_SMALL, max_examples=int(os.environ.get("TWINSLOT_LONG_EXAMPLES", "20000")))(run)()

"""Each shape with each kind of damage: what a slow reading of the damaged text finds, or an error that names a line."""

from __future__ import annotations

import gzip
import itertools
import os
import tempfile
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.readers.oracle import slow_table
from tests.strategies import edited
from tracecore.errors import AmbiguousCapture, CaptureFileError, MissingSampleRate, UnknownCapture
from tracecore.readers import read_capture

# such an error is about the file as a whole, which is no longer in a shape that is known
OF_THE_FILE = (UnknownCapture, AmbiguousCapture, MissingSampleRate)


@dataclass(frozen=True)
class Form:
    """``kinds`` as in the oracle; ``unit_ps`` of the time or, where there is none, the time of a row.

    A time may be off by ``near_ps``, as much as passes for rounding.
    """

    head: str
    rows: str
    kinds: str
    unit_ps: int
    names: tuple[str, ...]
    scale: float = 1.0
    near_ps: int = 0

    @property
    def data(self) -> bytes:
        return (self.head + self.rows).encode()


FORMS = {
    "sampled": Form("; Samplerate: 10 MHz\nD1,D3\n", "0,1\n1,1\n1,0\n0,0\n0,1\n", "ll", 100_000, ("D1", "D3")),
    "sampled with time": Form(
        "; Samplerate: 10 MHz\nTime [ns],D1,D3\n",
        "0,0,1\n100,1,1\n200,1,0\n300,0,0\n400,0,1\n",
        "txx",
        1000,
        ("D1", "D3"),
        near_ps=1,
    ),
    "changes": Form(
        "Time [ns],D1,D3\n", "5,0,1\n17,1,1\n400,0,1\n450,0,0\n1000,1,0\n", "txx", 1000, ("D1", "D3"), near_ps=1
    ),
    "two heading rows": Form(
        "x-axis,A,B\nsecond,Volt,Volt\n",
        "0.0E-06,0.20,3.41\n1.0E-06,0.21,3.30\n2.0E-06,3.30,3.25\n3.0E-06,3.40,3.15\n4.0E-06,3.42,0.15\n",
        "tvv",
        10**12,
        ("A", "B"),
    ),
    "closed, in mV": Form(
        "Time (us),Ch A (mV)\n",
        "0.00,200,\n0.01,210,\n0.02,3400,\n0.03,3410,\n0.04,190,\n",
        "tv-",
        10**6,
        ("Ch A",),
        1e-3,
        near_ps=10_000,
    ),
    "preamble above": Form(
        "Sample Interval,4.0E-09\nVertical Units,V\nTIME,CH2\n",
        "0.000E+00,0.15\n4.000E-09,0.25\n8.000E-09,3.05\n1.200E-08,3.15\n1.600E-08,3.25\n",
        "tv",
        10**12,
        ("CH2",),
    ),
    "index": Form(
        "X,CH1,CH2,Start,Increment\nSequence,Volt,Volt,0,2.0E-06\n",
        "0,0.25,3.45,,\n1,0.35,3.35,,\n2,3.15,0.25,,\n3,3.25,0.35,,\n4,3.35,0.45,,\n",
        "tvv--",
        2 * 10**6,
        ("CH1", "CH2"),
    ),
    "mixed": Form(
        "t,A,EN\nus,V,logic\n",
        "0.00,0.25,1\n0.01,0.55,1\n0.02,3.55,0\n0.03,3.25,0\n0.04,3.15,1\n",
        "tvl",
        10**6,
        ("A", "EN"),
        near_ps=10_000,
    ),
}
EACH = pytest.mark.parametrize("form", FORMS.values(), ids=FORMS.keys())


def read(data: bytes, packed: bool = False):
    """The capture, or the error."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "damaged"
        path.write_bytes(gzip.compress(data) if packed else data)
        try:
            return read_capture(path)
        except CaptureFileError as error:
            return error


def verdict(form: Form, data: bytes, packed: bool = False) -> str:
    """``read`` or ``refused``; what is wrong where it is neither the right data nor an error that names a line."""
    got = read(data, packed)
    wanted = slow_table(data, form.kinds, form.head.count("\n") + 1)
    if isinstance(got, CaptureFileError):
        return "refused" if got.line is not None or isinstance(got, OF_THE_FILE) else f"no line named: {got}"
    if wanted.bad_line is not None:
        return f"line {wanted.bad_line} does not fit, and is read"
    if sorted([*got.digital, *got.analog]) != sorted(form.names):
        return f"channels {[*got.digital, *got.analog]}"
    if not wanted.rows:
        return "no whole row, and it is read"
    timed = form.kinds[0] == "t"
    times = [Fraction(row[0]) * form.unit_ps if timed else i * form.unit_ps for i, row in enumerate(wanted.rows)]
    for i, name in enumerate(form.names):
        cells = [row[i + timed] for row in wanted.rows]
        if name in got.analog:
            wrong = _volts(form, got.analog[name], cells, times)
        else:
            wrong = _levels(form, got.digital[name], [int(cell) if cell in ("0", "1") else 2 for cell in cells], times)
        if wrong:
            return f"{name}: {wrong}"
    return "read"


def _volts(form: Form, trace, cells, times) -> str:
    wanted = np.array([float(cell) for cell in cells], np.float32)
    if form.scale != 1.0:
        wanted = (wanted.astype(np.float64) * form.scale).astype(np.float32)
    if trace.volts.tolist() != wanted.tolist():
        return f"{trace.volts.tolist()} for {wanted.tolist()}"
    shown = [trace.start_ps + i * trace.interval_ps for i in range(len(times))]
    off = max(abs(a - b) for a, b in zip(shown, times, strict=True))
    return f"a time off by {float(off)} ps" if off > max(trace.interval_ps / 2, form.near_ps) else ""


def _levels(form: Form, trace, levels, times) -> str:
    rows = list(zip(times, levels, strict=True))
    if "x" in form.kinds:
        # of rows at one time the last holds; samples stand in even steps whatever their printed times
        rows = [row for row, after in zip(rows, [*times[1:], None], strict=True) if row[0] != after]
    entries = [rows[0], *(b for a, b in itertools.pairwise(rows) if a[1] != b[1])]
    if trace.levels.tolist() != [level for _, level in entries]:
        return f"levels {trace.levels.tolist()} for {entries}"
    if any(abs(a - b[0]) > form.near_ps for a, b in zip(trace.times_ps.tolist(), entries, strict=True)):
        return f"times {trace.times_ps.tolist()} for {entries}"
    return ""


def damages(form: Form):
    """(0 for the first row, else 1; what; data): cuts, two flips of each byte, cells dropped and put in."""
    data, first = form.data, len(form.head)
    second = data.index(b"\n", first) + 1
    yield from ((0 if at <= second else 1, f"cut at {at}", data[:at]) for at in range(first + 1, len(data)))
    for at, bit in itertools.product(range(first, len(data)), (1, 0x20)):
        yield int(at >= second), f"byte {at} xor {bit}", data[:at] + bytes([data[at] ^ bit]) + data[at + 1 :]
    lines = form.rows.splitlines()
    for i, line in enumerate(lines):
        cells = line.split(",")
        for k in range(len(cells)):
            for what, other in (("dropped", cells[:k] + cells[k + 1 :]), ("put in", [*cells[:k], "0", *cells[k:]])):
                rows = "\n".join([*lines[:i], ",".join(other), *lines[i + 1 :], ""])
                yield min(i, 1), f"cell {k + 1} of row {i + 1} {what}", (form.head + rows).encode()


def wrong_cases(form: Form, row: int) -> list[tuple[str, bytes, str]]:
    said = [(what, data, verdict(form, data)) for at, what, data in damages(form) if at == row]
    assert sum(result == "read" for *_, result in said) > 0
    return [case for case in said if case[2] not in ("read", "refused")]


@EACH
def test_every_damage_behind_the_first_row_is_the_right_data_or_an_error(form):
    assert verdict(form, form.data) == "read"
    assert wrong_cases(form, 1) == []


@EACH
def test_every_damage_of_the_first_row_is_the_right_data_or_an_error(form):
    assert wrong_cases(form, 0) == []


@EACH
def test_a_heading_twice_is_read_once_or_refused(form):
    assert verdict(form, (form.head + form.head + form.rows).encode(), False) in ("read", "refused") or (
        # the oracle counts the lines of one heading
        verdict(replace(form, head=form.head * 2), (form.head * 2 + form.rows).encode()) in ("read", "refused")
    )


@EACH
def test_a_packed_file_with_any_byte_changed_or_cut_is_the_same_data_or_refused(form):
    packed = gzip.compress(form.data, mtime=0)
    whole = read(form.data)
    for at in range(len(packed)):
        for data in (packed[:at], packed[:at] + bytes([packed[at] ^ 1]) + packed[at + 1 :]):
            got = read(data)
            assert isinstance(got, CaptureFileError) or same(got, whole), at


def same(one, other) -> bool:
    """Equal traces; the files themselves differ."""
    if [*one.digital, *one.analog] != [*other.digital, *other.analog]:
        return False
    levels = all(
        a.stop_ps == b.stop_ps and (a.times_ps == b.times_ps).all() and (a.levels == b.levels).all()
        for a, b in zip(one.digital.values(), other.digital.values(), strict=True)
    )
    return levels and all(
        (a.start_ps, a.interval_ps) == (b.start_ps, b.interval_ps) and (a.volts == b.volts).all()
        for a, b in zip(one.analog.values(), other.analog.values(), strict=True)
    )


@st.composite
def damaged(draw: st.DrawFn) -> tuple[Form, bytes, bool]:
    """Rows drawn for one of the forms, damaged behind the first row."""
    form = FORMS[draw(st.sampled_from(sorted(FORMS)))]
    random = draw(st.randoms(use_true_random=False))
    lines = form.rows.splitlines()
    for i in range(len(lines)):
        cells = lines[i].split(",")
        for k, kind in enumerate(form.kinds):
            if kind in "lx":
                cells[k] = random.choice("01")
            elif kind == "v":
                cells[k] = f"{random.choice(['', '-'])}{random.randrange(2, 5000) / 1000:.3f}"
        lines[i] = ",".join(cells)
    data = (form.head + "\n".join(lines) + "\n").encode()
    first = len(form.head) + len(lines[0]) + 1
    return form, draw(edited(data, first)), draw(st.booleans())


def test_a_stray_quote_hides_no_row():
    form = FORMS["closed, in mV"]
    assert verdict(form, form.data.replace(b"210,\n", b'210,"')) == "refused"


def check_damaged(case: tuple[Form, bytes, bool]) -> None:
    assert verdict(*case) in ("read", "refused")


@settings(deadline=None, suppress_health_check=list(HealthCheck), max_examples=2000)
@given(damaged())
def test_rows_drawn_and_damaged_are_the_right_data_or_an_error(case):
    check_damaged(case)


@pytest.mark.long
def test_rows_drawn_and_damaged_are_the_right_data_or_an_error_many_times(request):
    if "long" not in request.config.getoption("markexpr"):
        pytest.skip("takes minutes; asked for with -m long")
    many = settings(
        deadline=None,
        suppress_health_check=list(HealthCheck),
        max_examples=int(os.environ.get("TWINSLOT_LONG_EXAMPLES", "20000")),
    )
    many(given(damaged())(check_damaged))()

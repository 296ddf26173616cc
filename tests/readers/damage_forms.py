"""Small files of each shape, and the verdict on a damaged one: the right data, an error that names a line, or wrong."""

from __future__ import annotations

import gzip
import itertools
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from tests.fresh_file import fresh_file
from tests.readers.oracle import slow_table, slow_time, slow_word
from tracecore.errors import AmbiguousCapture, CaptureFileError, MissingSampleRate, UnknownCapture
from tracecore.readers import read_capture

# such an error is about the file as a whole, which is no longer in a shape that is known
OF_THE_FILE = (UnknownCapture, AmbiguousCapture, MissingSampleRate)


@dataclass(frozen=True)
class Form:
    """``kinds`` as in the oracle; ``unit_ps`` of the time or, where there is none, the time of a row.

    A time may be off by ``near_ps``, as much as passes for rounding. ``tokens`` are the values that the heading states,
    in their order: ``t`` a unit of time, ``v`` of volts, ``V`` of all volts, ``r`` a rate, ``s`` and ``i`` start and
    increment, ``b`` the bits of words. ``time`` is the text of the time of a row; ``prefix`` and ``bits`` (0: as wide
    as the words are) are those of words.
    """

    head: str
    rows: str
    kinds: str
    unit_ps: int | Fraction
    names: tuple[str, ...]
    scale: float = 1.0
    near_ps: int = 0
    tokens: tuple[tuple[str, str], ...] = ()
    time: Callable[[int], str] = str
    prefix: str = ""
    bits: int = 0
    start_ps: Fraction = Fraction(0)
    scales: tuple[float, ...] = ()

    @property
    def data(self) -> bytes:
        return (self.head + self.rows).encode()


# time, and two levels
ROWS = [(5, 0, 1), (17, 1, 1), (400, 0, 1), (450, 0, 0), (1000, 1, 0), (1010, 1, 1)]

FORMS = {
    "sampled": Form(
        "; Samplerate: 10 MHz\nD1,D3\n",
        "0,1\n1,1\n1,0\n0,0\n0,1\n",
        "ll",
        100_000,
        ("D1", "D3"),
        near_ps=1,
        tokens=(("r", "10 MHz"),),
    ),
    "sampled with time": Form(
        "; Samplerate: 10 MHz\nTime [ns],D1,D3\n",
        "0,0,1\n100,1,1\n200,1,0\n300,0,0\n400,0,1\n",
        "txx",
        1000,
        ("D1", "D3"),
        near_ps=1,
        tokens=(("t", "ns"),),
        time=lambda i: str(100 * i),
    ),
    "changes": Form(
        "Time [ns],D1,D3\n",
        "5,0,1\n17,1,1\n400,0,1\n450,0,0\n1000,1,0\n",
        "txx",
        1000,
        ("D1", "D3"),
        near_ps=1,
        tokens=(("t", "ns"),),
        time=lambda i: str(5 + 7 * i * i),
    ),
    "two heading rows": Form(
        "x-axis,A,B\nsecond,Volt,Volt\n",
        "0.0E-06,0.20,3.41\n1.0E-06,0.21,3.30\n2.0E-06,3.30,3.25\n3.0E-06,3.40,3.15\n4.0E-06,3.42,0.15\n",
        "tvv",
        10**12,
        ("A", "B"),
        tokens=(("t", "second"), ("v", "Volt"), ("v", "Volt")),
        time=lambda i: f"{i}.0E-06",
    ),
    "closed, in mV": Form(
        "Time (us),Ch A (mV)\n",
        "0.00,200,\n0.01,210,\n0.02,3400,\n0.03,3410,\n0.04,190,\n",
        "tv-",
        10**6,
        ("Ch A",),
        1e-3,
        near_ps=10_000,
        tokens=(("t", "us"), ("v", "mV")),
        time=lambda i: f"{i / 100:.2f}",
    ),
    "preamble above": Form(
        "Sample Interval,4.0E-09\nVertical Units,V\nTIME,CH2\n",
        "0.000E+00,0.15\n4.000E-09,0.25\n8.000E-09,3.05\n1.200E-08,3.15\n1.600E-08,3.25\n",
        "tv",
        10**12,
        ("CH2",),
        tokens=(("V", "Units,|V"),),
        time=lambda i: f"{i * 4e-9:.3E}",
    ),
    "index": Form(
        "X,CH1,CH2,Start,Increment\nSequence,Volt,Volt,0,2.0E-06\n",
        "0,0.25,3.45,,\n1,0.35,3.35,,\n2,3.15,0.25,,\n3,3.25,0.35,,\n4,3.35,0.45,,\n",
        "tvv--",
        2 * 10**6,
        ("CH1", "CH2"),
        tokens=(("v", "Volt"), ("v", "Volt"), ("s", "0"), ("i", "2.0E-06")),
    ),
    "mixed": Form(
        "t,A,EN\nus,V,logic\n",
        "0.00,0.25,1\n0.01,0.55,1\n0.02,3.55,0\n0.03,3.25,0\n0.04,3.15,1\n",
        "tvl",
        10**6,
        ("A", "EN"),
        near_ps=10_000,
        tokens=(("t", "us"), ("v", "V")),
        time=lambda i: f"{i / 100:.2f}",
    ),
    "listed names": Form(
        "; Channels (2/8): D1, D3\n; Samplerate: 10 MHz\nlogic,logic\n",
        "0,1\n1,1\n1,0\n0,0\n0,1\n",
        "ll",
        100_000,
        ("D1", "D3"),
        near_ps=1,
        tokens=(("r", "10 MHz"),),
    ),
    "mixed, without types": Form(
        "Time (us),CLK,A (V),EN\n",
        "0.00,0,0.25,1\n0.01,1,0.5,1\n0.02,0,3.5,1\n0.03,0,3.25,0\n0.04,1,3.25,0\n",
        "tlvl",
        10**6,
        ("CLK", "A", "EN"),
        near_ps=10_000,
        tokens=(("t", "us"), ("v", "V")),
        time=lambda i: f"{i / 100:.2f}",
    ),
    "preamble in mV": Form(
        "Record Length,5\nSample Interval,4.0E-09\nVertical Units,mV\nHorizontal Units,us\nTIME,CH2\n",
        "0.000,150\n0.004,250\n0.008,3050\n0.012,3150\n0.016,3250\n",
        "tv",
        10**6,
        ("CH2",),
        1e-3,
        tokens=(("V", "Vertical Units,|mV"), ("t", "Horizontal Units,|us")),
        time=lambda i: f"{i * 0.004:.3f}",
    ),
    "words behind a time": Form(
        "Time (ns),D[7:0] (hex),CLK\n",
        "0,3F,0\n10,1X,1\n30,X,0\n40,A2,1\n45,07,1\n",
        "thx",
        1000,
        ("D", "CLK"),
        near_ps=1,
        tokens=(("t", "ns"), ("b", "[7:0]")),
        time=lambda i: str(10 * i + i % 3),
        bits=8,
    ),
    "words below a preamble": Form(
        "Bench,LA 16\nSamples,240\nTime (ns),CLK,D[7:0] (hex)\n",
        "0,0,3F\n10,1,1A\n30,0,22\n40,1,A2\n45,0,07\n",
        "txh",
        1000,
        ("CLK", "D"),
        near_ps=1,
        tokens=(("t", "ns"), ("b", "[7:0]")),
        time=lambda i: str(10 * i + i % 3),
        bits=8,
    ),
    "words alone": Form(
        "Time (ns),D[7:0] (hex)\n",
        "0,3F\n10,1A\n30,22\n40,A2\n45,07\n",
        "th",
        1000,
        ("D",),
        near_ps=1,
        tokens=(("t", "ns"), ("b", "[7:0]")),
        time=lambda i: str(10 * i + i % 3),
        bits=8,
    ),
    "words a sample": Form(
        "; Samplerate: 10 MHz\nCLK,D\n",
        "0,0x3F\n1,0x1A\n0,0xA2\n1,0xFF\n1,0x07\n",
        "lh",
        100_000,
        ("CLK", "D"),
        near_ps=1,
        tokens=(("r", "10 MHz"),),
        prefix="0x",
    ),
}


# layouts that are read by the plan of their columns; their headings are damaged in no test of their own
BENCH_FORMS = {
    "dates": Form(
        "Time,D1,D3\n",
        "".join(f"2031-05-04T10:20:59.{t:09d}+02:00,{a},{b}\n" for t, a, b in ROWS),
        "dxx",
        1000,
        ("D1", "D3"),
    ),
    "times with a unit": Form(
        "Time,D1,D3\n", "".join(f"{t} ns,{a},{b}\n" for t, a, b in ROWS), "uxx", 1000, ("D1", "D3")
    ),
    "words for levels": Form(
        "Time [ns],D1,D3\n",
        "".join(f"{t},{'LH'[a]},{'LH'[b]}\n" for t, a, b in ROWS),
        "tww",
        1000,
        ("D1", "D3"),
        near_ps=1,
    ),
    "numbers of samples": Form(
        "; Samplerate: 10 MHz\nSample in buffer,D1,D3\n",
        "".join(f"{i},{a},{b}\n" for i, (_, a, b) in enumerate(ROWS)),
        "ixx",
        100_000,
        ("D1", "D3"),
    ),
    "decoded text": Form(
        "Time [ns],D1,Bus,D3\n",
        "".join(
            f"{t},{a},{text},{b}\n"
            for (t, a, b), text in zip(ROWS, ["READ a", "", "NACK!", "READ b", "go on", "end!"], strict=True)
        ),
        "tx-x",
        1000,
        ("D1", "D3"),
        near_ps=1,
    ),
    "start and increment alone": Form(
        "A,B,Start,Increment\nVolt,Volt,-1.0E-03,2.0E-06\n",
        "".join(f"{a}.25,{b}.5\n" for _, a, b in ROWS),
        "vv",
        2 * 10**6,
        ("A", "B"),
        start_ps=Fraction(-(10**9)),
    ),
}


def read(data: bytes, packed: bool = False):
    """The capture, or the error."""
    try:
        return read_capture(fresh_file("damaged", gzip.compress(data) if packed else data))
    except CaptureFileError as error:
        return error


def verdict(form: Form, data: bytes, packed: bool = False) -> str:
    """``read`` or ``refused``; what is wrong where it is neither the right data nor an error that names a line."""
    got = read(data, packed)
    wanted = slow_table(data, form.kinds, form.head.count("\n") + 1, form.prefix, form.bits)
    if isinstance(got, CaptureFileError):
        return "refused" if got.line is not None or isinstance(got, OF_THE_FILE) else f"no line named: {got}"
    if wanted.bad_line is not None:
        return f"line {wanted.bad_line} does not fit, and is read"
    if {name.partition("[")[0] for name in (*got.digital, *got.analog)} != set(form.names):
        return f"channels {[*got.digital, *got.analog]}"
    if not wanted.rows:
        return "no whole row, and it is read"
    return compared(form, got, wanted.rows)


def compared(form: Form, got, rows) -> str:
    """``read``, or what is wrong with the data, whatever the names."""
    timed = form.kinds[0] in "tidu"
    if form.kinds[0] in "du":
        stamps = [slow_time(row[0], form.kinds[0]) or Fraction(0) for row in rows]
        times = [Fraction(int(stamp - (stamps[0] if form.kinds[0] == "d" else 0) + Fraction(1, 2))) for stamp in stamps]
        if max(map(abs, times)) >= 10**18:
            return "a time out of reach"
        if any(a > b for a, b in itertools.pairwise(times)):
            return "times that run backwards"
    else:
        shown = [Fraction(row[0]) if timed else i for i, row in enumerate(rows)]
        times = [form.start_ps + number * form.unit_ps for number in shown]
    if form.unit_ps < 1:
        # no time is finer than a picosecond
        times = [Fraction(int(time + Fraction(1, 2))) for time in times]
    analog, digital = list(got.analog.values()), list(got.digital.values())
    for i, kind in enumerate(form.kinds.replace("-", "")[timed:], start=timed):
        cells = [row[i] for row in rows]
        if kind == "v":
            place = form.kinds[:i].count("v")
            scale = form.scales[place] if place < len(form.scales) else form.scale
            wrong = _volts(form, analog.pop(0), cells, times, scale) if analog else "a channel of volts is missing"
        else:
            wrong = _bits(form, digital, _columns(form, kind, cells), times)
        if wrong:
            return f"channel {i}: {wrong}"
    return f"{len(analog) + len(digital)} channels too many" if analog or digital else "read"


def _columns(form: Form, kind: str, cells: list[str]) -> list[list[int]]:
    """The levels of each bit, most significant first."""
    if kind == "w":
        return [[{"l": 0, "h": 1, "0": 0, "1": 1}.get(cell.lower(), 2) for cell in cells]]
    if kind != "h":
        return [[int(cell) if cell in ("0", "1") else 2 for cell in cells]]
    words = [slow_word(cell, form.prefix, form.bits) or "" for cell in cells]
    width = form.bits or max(1, 4 * max(len(c) - len(form.prefix) if len(c) > 1 else 0 for c in cells))
    return [["01x".index(word[bit]) for word in words] for bit in range(64 - width, 64)]


def _bits(form: Form, digital: list, columns: list[list[int]], times) -> str:
    for levels in columns:
        if not digital:
            return "a channel of logic is missing"
        if wrong := _levels(form, digital.pop(0), levels, times):
            return wrong
    return ""


def _volts(form: Form, trace, cells, times, scale: float) -> str:
    wanted = np.array([float(cell) * scale for cell in cells]).astype(np.float32)
    if trace.volts.tolist() != wanted.tolist():
        return f"{trace.volts.tolist()} for {wanted.tolist()}"
    shown = [trace.start_ps + i * trace.interval_ps for i in range(len(times))]
    off = max((abs(a - b) for a, b in zip(shown, times, strict=True)), default=0)
    return f"a time off by {float(off)} ps" if off > max(trace.interval_ps / 2, form.near_ps) else ""


def _levels(form: Form, trace, levels, times) -> str:
    rows = list(zip(times, levels, strict=True))
    if form.kinds[0] in "tidu" and "v" not in form.kinds:
        # of rows at one time the last holds; samples stand in even steps whatever their printed times
        rows = [row for row, after in zip(rows, [*times[1:], None], strict=True) if row[0] != after]
    entries = [rows[0], *(b for a, b in itertools.pairwise(rows) if a[1] != b[1])]
    if trace.levels.tolist() != [level for _, level in entries]:
        return f"levels {trace.levels.tolist()} for {entries}"
    if any(abs(a - b[0]) > form.near_ps for a, b in zip(trace.times_ps.tolist(), entries, strict=True)):
        return f"times {trace.times_ps.tolist()} for {entries}"
    return ""

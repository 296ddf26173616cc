"""Scope columns: volts in even steps of time, in the three shapes that instruments write.

A time column and volt columns under one or two heading rows; a preamble of names and values above the rows or
in the first columns beside them; an index column with start and increment in the heading row.
"""

from __future__ import annotations

import io
import itertools
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np

from tracecore.capture import AnalogTrace, Capture
from tracecore.errors import CaptureFileError, MalformedCapture
from tracecore.quantities import PS_PER_S, format_rate, time_unit_ps
from tracecore.readers.source import Head, ReadOptions, Source

NAME = "scope columns"
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")
_VOLT_UNITS = {"v": 1.0, "volt": 1.0, "volts": 1.0, "mv": 1e-3, "millivolt": 1e-3, "uv": 1e-6, "kv": 1e3}
_UNIT = re.compile(r"[\[(]\s*([A-Za-zµμ]+)\s*[\])]")


@dataclass(frozen=True, slots=True)
class _Shape:
    """``columns`` are the cells that hold numbers in every data row: the time (or index) first."""

    data_line: int
    columns: tuple[int, ...]
    heading: tuple[tuple[str, ...], ...]
    preamble: dict[str, str]
    indexed: tuple[Fraction, Fraction] | None


def recognises(head: Head) -> bool:
    """Numbers in even columns, of which those behind the first are not all 0 or 1."""
    return _shape(head) is not None


def _shape(head: Head) -> _Shape | None:
    rows = [i for i, line in enumerate(head.lines) if line.strip()]
    if len(rows) < 2:
        return None
    sample = [head.cells(i) for i in rows[-min(60, max(4, len(rows) // 2)) :]]
    # a damaged cell here and there does not make a column less of numbers
    widest = max(len(cells) for cells in sample)
    columns = tuple(c for c in range(widest) if 2 * sum(_is_number(cells, c) for cells in sample) > len(sample))
    start = next((i for i in rows if all(_is_number(head.cells(i), c) for c in columns)), None) if columns else None
    if start is None:
        return None
    above = [head.cells(i) for i in rows if i < start]
    indexed = _index_heading(above)
    if indexed is not None:
        columns = tuple(c for c in columns if c < len([x for x in above[0] if x]) - 2)
    preamble = _preamble(above, [head.cells(i) for i in rows if i >= start][:60], columns[0] if columns else 0)
    if len(columns) < 2 or (not above and not preamble):
        return None
    if not _like_volts(head, rows, start, columns):
        return None
    heading = tuple(tuple(cells) for cells in above[-2:])
    return _Shape(start, columns, heading, preamble, indexed)


def _is_number(cells: list[str], column: int) -> bool:
    return column < len(cells) and bool(_NUMBER.fullmatch(cells[column]))


def _like_volts(head: Head, rows: list[int], start: int, columns: tuple[int, ...]) -> bool:
    lines = [head.cells(i) for i in rows if i >= start][:2000]
    volts = sum(
        any(c < len(cells) and cells[c] not in ("0", "1", "") and _is_number(cells, c) for c in columns[1:])
        for cells in lines
    )
    # a stray 2 among logic cells is a damaged logic file, not a scope's
    return 2 * volts > len(lines)


def _index_heading(above: list[list[str]]) -> tuple[Fraction, Fraction] | None:
    """Start and increment where the heading names them in its last cells."""
    for names, values in itertools.pairwise(above):
        low = [n.lower() for n in names]
        if "start" in low and "increment" in low:
            a, b = low.index("start"), low.index("increment")
            if _is_number(values, a) and _is_number(values, b):
                return Fraction(values[a]), Fraction(values[b])
    return None


def _preamble(above: list[list[str]], rows: list[list[str]], first_column: int) -> dict[str, str]:
    """Names and values, above the rows or in the columns left of them."""
    pairs: dict[str, str] = {}
    for cells in above:
        if len(cells) >= 2 and cells[0] and not _is_number(cells, 0):
            pairs.setdefault(cells[0].lower(), cells[1])
    if first_column >= 2:
        for cells in rows:
            if cells[0]:
                pairs.setdefault(cells[0].lower(), cells[1])
    return pairs


def read_scope(source: Source, options: ReadOptions) -> Capture:
    """Reads volts. Raises MalformedCapture with line and column for a cell that is no number, and where the
    times are not in even steps."""
    head = source.head()
    shape = _shape(head)
    if shape is None:
        raise CaptureFileError(
            source.path, found="no columns of numbers", expected="scope columns", do="Export the capture again."
        )
    columns = _numbers(source, head, shape)
    times, volts = columns[0], columns[1:]
    start_ps, interval = _time_base(source, head, shape, times, options.sample_rate)
    names, scales = _named(shape)
    analog = {}
    for channel, scale, column in zip(names, scales, volts, strict=True):
        values = column.astype(np.float32) if scale == 1.0 else (column * scale).astype(np.float32)
        analog[channel] = AnalogTrace(start_ps, interval, values)
    facts = [("sample rate", format_rate(PS_PER_S / interval)), ("samples", str(len(times)))]
    facts += [(k, v) for k, v in shape.preamble.items() if v and not _NUMBER.fullmatch(k)][:20]
    return Capture(
        options.name,
        {},
        analog,
        -(-interval.numerator // interval.denominator),
        NAME,
        source.path,
        source.sha256(),
        tuple(facts),
        (),
    )


def _numbers(source: Source, head: Head, shape: _Shape) -> list[np.ndarray[Any, np.dtype[np.float64]]]:
    import pandas as pd

    text = _body(source, shape)
    try:
        frame = pd.read_csv(
            io.BytesIO(text),
            header=None,
            usecols=list(shape.columns),
            sep=head.delimiter,
            dtype=np.float64,
            skip_blank_lines=False,
            skipinitialspace=True,
            encoding="latin-1",
            names=range(_widest(head, shape)),
            na_values=[],
            keep_default_na=False,
        )
    except (ValueError, pd.errors.ParserError):
        raise _bad_cell(source, head, shape, text) from None
    columns = [frame[c].to_numpy() for c in shape.columns]
    if any(not np.isfinite(c).all() for c in columns):
        raise _bad_cell(source, head, shape, text)
    return columns


def _widest(head: Head, shape: _Shape) -> int:
    return max(len(head.cells(i)) for i in range(shape.data_line, len(head.lines)))


def _body(source: Source, shape: _Shape) -> bytes:
    """Everything from the first data row on, without blank lines at the end."""
    head = source.take_head()
    at = 0
    for _ in range(shape.data_line):
        at = head.index(b"\n", at) + 1
    parts = [head[at:]]
    while piece := source.read(1 << 20):
        parts.append(piece)
    return b"".join(parts).rstrip()


def _bad_cell(source: Source, head: Head, shape: _Shape, text: bytes) -> MalformedCapture:
    """Finds the first cell that is no number, line by line."""
    width = None
    for i, line in enumerate(text.decode("latin-1").split("\n")):
        cells = [c.strip().strip('"').strip() for c in line.rstrip("\r").split(head.delimiter)]
        width = width or len(cells)
        for column in shape.columns:
            if not _is_number(cells, column):
                shown = repr(cells[column][:40]) if column < len(cells) else f"only {len(cells)} cells"
                return MalformedCapture(
                    source.path,
                    line=shape.data_line + i + 1,
                    column=column + 1,
                    found=shown,
                    expected="a number",
                    do="Export the capture again, or correct this line.",
                )
        if len(cells) > _widest(head, shape):
            return MalformedCapture(
                source.path,
                line=shape.data_line + i + 1,
                found=f"{len(cells)} cells",
                expected=f"{width} as above",
                do="Export the capture again, or correct this line.",
            )
    return MalformedCapture(
        source.path, found="columns that cannot be read as numbers", expected="numbers", do="Export the capture again."
    )


def _time_base(
    source: Source,
    head: Head,
    shape: _Shape,
    times: np.ndarray[Any, np.dtype[np.float64]],
    sample_rate: Fraction | None,
) -> tuple[int, Fraction]:
    """Start in ps and the exact interval in ps."""
    if shape.indexed is not None:
        start, increment = shape.indexed
        if increment <= 0:
            raise MalformedCapture(
                source.path,
                line=shape.data_line,
                found=f"an increment of {float(increment):g} s",
                expected="one above zero",
                do="Export the capture again.",
            )
        _even(source, shape, times, 0.5)
        return round(start * PS_PER_S), increment * PS_PER_S
    unit = _time_unit(shape)
    if len(times) == 1:
        stated = sample_rate or _stated_rate(shape)
        if stated is None:
            raise MalformedCapture(
                source.path,
                found="one row only, which tells no sample interval",
                expected="two rows or more",
                do="Give the sample rate.",
            )
        return round(Fraction(str(times[0])) * unit), PS_PER_S / stated
    printed = _printed_unit(head, shape)
    _even(source, shape, times, max(0.75 * float(printed), float(np.abs(times).max()) * 1e-15))
    span = Fraction(_exact(times[-1])) - Fraction(_exact(times[0]))
    mean = span / (len(times) - 1)
    interval = _plain(mean, printed / (len(times) - 1), shape, unit)
    return round(Fraction(_exact(times[0])) * unit), interval


def _exact(value: float) -> str:
    """The shortest decimal that reads back as the same number: what was printed."""
    return repr(float(value))


def _stated_rate(shape: _Shape) -> Fraction | None:
    for key, value in shape.preamble.items():
        if "interval" in key and _NUMBER.fullmatch(value) and Fraction(value) > 0:
            return 1 / Fraction(value)
    return None


def _plain(mean: Fraction, slack: Fraction, shape: _Shape, unit: Fraction) -> Fraction:
    """The interval in ps: the stated one where it agrees, else the shortest decimal that the times allow."""
    stated = _stated_rate(shape)
    if stated is not None and abs(1 / stated - mean * unit / PS_PER_S) <= slack * unit / PS_PER_S + mean / 10**6:
        return PS_PER_S / stated
    for digits in range(1, 12):
        short = Fraction(f"{float(mean):.{digits}g}")
        if abs(short - mean) <= slack:
            return short * unit
    return mean * unit


def _even(source: Source, shape: _Shape, times: np.ndarray[Any, np.dtype[np.float64]], slack: float) -> None:
    step = (times[-1] - times[0]) / max(1, len(times) - 1)
    if len(times) > 1 and step <= 0:
        at = int((np.diff(times) <= 0).argmax()) + 1
        raise MalformedCapture(
            source.path,
            line=shape.data_line + at + 1,
            column=shape.columns[0] + 1,
            found="a time not after that of the row above",
            expected="times that run forwards",
            do="Export the capture again.",
        )
    off = np.abs(times - times[0] - step * np.arange(len(times)))
    worst = int(off.argmax())
    if off[worst] > max(2 * slack, 0.02 * step):
        jump = int(np.abs(np.diff(times) - step).argmax()) + 1
        raise MalformedCapture(
            source.path,
            line=shape.data_line + jump + 1,
            column=shape.columns[0] + 1,
            found=f"a step of {times[jump] - times[jump - 1]:.6g} in the time column",
            expected=f"even steps of {step:.6g}",
            do="Export the capture again without gaps.",
        )


def _printed_unit(head: Head, shape: _Shape) -> Fraction:
    """The last printed digit of the times; the coarsest of the first rows, as exponents make it vary."""
    units = []
    for i in [i for i in range(shape.data_line, len(head.lines)) if head.lines[i].strip()][:500]:
        cell = head.cells(i)[shape.columns[0]]
        mantissa, _, exponent = cell.lower().partition("e")
        units.append(Fraction(10) ** (int(exponent or 0) - len(mantissa.partition(".")[2])))
    return max(units)


def _time_unit(shape: _Shape) -> Fraction:
    """The unit of the time column in ps; scopes write seconds unless the heading says otherwise."""
    column = shape.columns[0]
    for cells in reversed(shape.heading):
        text = cells[column] if column < len(cells) else ""
        match = _UNIT.search(text)
        unit = time_unit_ps(match[1]) if match else time_unit_ps(text)
        if unit is not None:
            return unit
    stated = time_unit_ps(shape.preamble.get("horizontal units", "s"))
    return stated if stated is not None else Fraction(PS_PER_S)


def _named(shape: _Shape) -> tuple[list[str], list[float]]:
    """Channel names and factors to volts, from the heading rows or the preamble."""
    names: list[str] = []
    scales: list[float] = []
    for number, column in enumerate(shape.columns[1:], start=1):
        name, scale = "", None
        for cells in reversed(shape.heading):
            text = cells[column] if column < len(cells) else ""
            match = _UNIT.search(text)
            unit = (match[1] if match else text).lower()
            if unit in _VOLT_UNITS:
                scale = _VOLT_UNITS[unit]
                text = text[: match.start()].strip() if match else ""
            if text and not name and (not _NUMBER.fullmatch(text) or (text.isdecimal() and len(text) < 3)):
                name = text
        if len(shape.heading) and column >= 2 and not _headed(shape, column):
            name = name or shape.preamble.get("source", "")
        stated = shape.preamble.get("vertical units", "").lower()
        scales.append(scale if scale is not None else _VOLT_UNITS.get(stated, 1.0))
        names.append(name if name and name not in names else f"CH{number}")
    return names, scales


def _headed(shape: _Shape, column: int) -> bool:
    return any(column < len(cells) and cells[column] for cells in shape.heading)

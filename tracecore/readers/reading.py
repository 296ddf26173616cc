"""Files to captures. A file is known by what is in it, never by its name.

    recognise/   first lines      → plan       where rows begin, what each column is, where times come from
    plan/        what was said    → plan       columns, units and bases as edits of it
    rows/        plan and bytes   → rows       changes of logic and words, numbers
    traces/      rows             → capture    the grid of their times, what is lost, what is told

A new shape of rows is one more way to recognise a plan, samples and a small test; a new shape of file (as dump/ is) is
one row in ``READERS``.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import numpy as np

from tracecore.capture import Capture
from tracecore.errors import AmbiguousCapture, CaptureFileError, UnknownCapture
from tracecore.file_name import as_text, file_name
from tracecore.own_names import CYCLE_ROWS
from tracecore.quantities import rate_of, time_unit_ps
from tracecore.readers.dump import reader as dump
from tracecore.readers.plan.column_choice import ColumnChoice, with_time
from tracecore.readers.plan.edits import edited, left_out_note, said_fact
from tracecore.readers.plan.plan import CELLS, CHANGES, SAMPLED, SCOPE
from tracecore.readers.plan.words import base_number
from tracecore.readers.recognise.damaged_heading import check_whole
from tracecore.readers.recognise.known import known
from tracecore.readers.recognise.plan_of import plan_of
from tracecore.readers.source import Head, Progress, ReadOptions, Source
from tracecore.readers.traces.build import read_by_plan
from tracecore.readers.traces.cycle_rows import PLAIN_HZ, as_cycles, by_cycles, no_cycle_rows


@dataclass(frozen=True, slots=True)
class Reader:
    """One shape of file: its name, and how it is known."""

    name: str
    recognises: Callable[[Head], bool]


def _rows(layout: str) -> Reader:
    """Rows of a layout that a recogniser knows."""
    return Reader(layout, lambda head: known(head).claims(layout))


def _is_by_cells(head: Head) -> bool:
    plan = plan_of(head)
    return plan is not None and plan.special


READERS: tuple[Reader, ...] = (
    _rows(SAMPLED),
    _rows(CHANGES),
    _rows(SCOPE),
    Reader(dump.NAME, dump.recognises),
    Reader(CELLS, _is_by_cells),
)


def read_capture(
    path: str | Path,
    *,
    sample_rate: Fraction | float | str | None = None,
    layout: str | None = None,
    name: str | None = None,
    progress: Progress | None = None,
    delimiter: str | None = None,
    first_row: int | None = None,
    time_unit: str | None = None,
    volt_scale: Fraction | None = None,
    word_base: int | str | None = None,
    columns: Mapping[str, ColumnChoice] | None = None,
    time_column: str | None = None,
    most_bytes: int | None = None,
) -> Capture:
    """Reads one file.

    ``sample_rate``, in hertz or as text ("24 MHz"), serves rows that state none; ``layout`` is the name of a reader,
    for a file that can be taken in two ways, or "cycle rows" where the board's own clock took each row; a rate is that
    of this clock then. ``delimiter`` is the character between cells, ``first_row`` the line of the first row of data,
    counted from 1, ``time_unit`` the unit of the time column ("ns") whatever its heading says; ``volt_scale``
    multiplies all volts. ``word_base`` is "hex", "octal" or "binary" (or 16, 8, 2), for words of a bus that do not show
    it. ``columns`` says by name what single columns are (a factor of its own goes before ``volt_scale``),
    ``time_column`` which one is the time; a file of which the kind of any column is said is read by that alone. A file
    with more than ``most_bytes`` in it, unzipped, is given up.
    Raises CaptureFileError, one sentence with line and column where they exist, and ValueError for a rate, a unit
    of time or a base that is none.
    """
    unit_ps = None if time_unit is None else time_unit_ps(time_unit)
    if time_unit is not None and unit_ps is None:
        raise ValueError(f"found {time_unit!r} as unit of time; expected s, ms, us, ns or ps")
    base = base_number(word_base)
    said = with_time(path, columns, time_column)
    rate_hz = None if sample_rate is None else rate_of(sample_rate)
    options = ReadOptions(as_text(name) if name else file_name(path), rate_hz, unit_ps, base, said)
    opened = Source(path, progress, delimiter=delimiter, first_row=first_row, most_bytes=most_bytes)
    own = frozenset(name for name, choice in said.items() if choice.factor is not None)
    with contextlib.closing(opened) as source:
        capture = _read(source, layout, options)
        capture = replace(capture, notes=(*capture.notes, *source.notes))
    return capture if volt_scale is None else _scaled(capture, volt_scale, own)


def _read(source: Source, layout: str | None, options: ReadOptions) -> Capture:
    """As the file is known, or by what a person said of its columns."""
    head, asked = source.head(), layout
    cycles, clock_hz = layout == CYCLE_ROWS, options.sample_rate
    if cycles:
        layout, options = None, replace(options, sample_rate=PLAIN_HZ)
    by_kinds = any(choice.kind for choice in options.columns.values())
    layout = CELLS if by_kinds else _layout(source, layout, options)
    if layout == dump.NAME:
        if cycles:
            raise no_cycle_rows(source.path, "a value change dump")
        return dump.read_dump(source, options)
    if layout == CELLS:
        plan = plan_of(head, options.columns)
    else:
        plan = plan_of(head, wanted=layout)
        if plan is not None and plan.wrong is not None:
            raise plan.wrong
    plan = edited(source.path, plan, options)
    capture = read_by_plan(source, as_cycles(source.path, plan) if cycles else plan, options)
    if asked == CHANGES:
        capture = replace(capture, reader=CHANGES)
    notes = (*capture.notes, *left_out_note(plan, options.columns))
    capture = replace(capture, facts=(*capture.facts, *said_fact(options.columns)), notes=notes)
    return by_cycles(capture, clock_hz) if cycles else capture


def _scaled(capture: Capture, scale: Fraction, own: frozenset[str]) -> Capture:
    """All volts times ``scale``, those with a factor of their ``own`` aside, and a fact that says so."""
    common = {name: trace for name, trace in capture.analog.items() if name not in own}
    if not common:
        return capture
    analog = dict(capture.analog) | {
        name: replace(trace, volts=(trace.volts.astype(np.float64) * float(scale)).astype(np.float32))
        for name, trace in common.items()
    }
    return replace(capture, analog=analog, facts=(*capture.facts, ("volts multiplied by", f"{float(scale):g}")))


def _layout(source: Source, layout: str | None, options: ReadOptions) -> str:
    """The name of the one reader that claims the file, or that was asked for and claims it too.

    A base of words that is given makes words of plain numbers which can be words, and no volts.
    """
    head = source.head()
    found, asked = known(head), [r for r in READERS if layout in (None, r.name)]
    if options.word_base is not None and layout is None and found.words is not None:
        return found.words.layout
    if layout == SCOPE and found.volts is not None:
        if isinstance(found.volts, CaptureFileError):
            raise found.volts
        return SCOPE
    if layout is None and _is_by_cells(head):
        return CELLS
    claims = tuple(r.name for r in asked if r.recognises(head))
    if len(claims) > 1:
        raise AmbiguousCapture(source.path, claims)
    if claims:
        return claims[0]
    if (plan := plan_of(head)) is not None:
        check_whole(head, plan.data_line)
    names, found_text = [r.name for r in asked], f"no rows in a layout that is known (it begins {head.lines[0][:60]!r})"
    do = "Export logic as 0 and 1, or volts with times; or say how it is read (--first-row, --delimiter, --column)."
    if not asked:
        names, found_text = [*(r.name for r in READERS), CYCLE_ROWS], f"no reader for a layout named {layout!r}"
        do = "Name one of these (--layout), or none."
    raise UnknownCapture(source.path, found=found_text, expected="one of: " + ", ".join(names), do=do)

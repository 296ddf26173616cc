"""Files to captures. A file is known by what is in it, never by its name.

A new shape is one module, one row in ``READERS``, one folder of samples, one small test.
"""

from __future__ import annotations

import contextlib
import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import numpy as np

from tracecore.capture import Capture
from tracecore.errors import AmbiguousCapture, CaptureFileError, UnknownCapture
from tracecore.file_name import as_text, file_name
from tracecore.quantities import rate_of, time_unit_ps
from tracecore.readers.by_hand import chosen_columns
from tracecore.readers.by_hand.chosen_columns import read_chosen
from tracecore.readers.by_hand.column_choice import ColumnChoice, with_time
from tracecore.readers.by_hand.column_plan import is_as_it_looks, scaled_columns, with_columns
from tracecore.readers.dump import reader as dump
from tracecore.readers.logic.reader import read_changes, read_sampled
from tracecore.readers.recognise.known import CHANGES, SAMPLED, SCOPE, known
from tracecore.readers.scope.reader import read_scope
from tracecore.readers.source import Head, Progress, ReadOptions, Source
from tracecore.readers.words.words import base_number


@dataclass(frozen=True, slots=True)
class Reader:
    """One shape of file: its name, how it is known, and how it is read."""

    name: str
    recognises: Callable[[Head], bool]
    read: Callable[[Source, ReadOptions], Capture]


READERS: tuple[Reader, ...] = (
    Reader(SAMPLED, lambda head: known(head).claims(SAMPLED), read_sampled),
    Reader(CHANGES, lambda head: known(head).claims(CHANGES), read_changes),
    Reader(SCOPE, lambda head: known(head).claims(SCOPE), read_scope),
    Reader(dump.NAME, dump.recognises, dump.read_dump),
    Reader(chosen_columns.NAME, chosen_columns.recognises, read_chosen),
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

    ``sample_rate``, in hertz or as text ("24 MHz"), serves rows that state none; ``layout`` is the name of a
    reader, for a file that can be taken in two ways. ``delimiter`` is the character between cells, ``first_row``
    the line of the first row of data, counted from 1, ``time_unit`` the unit of the time column ("ns") whatever its
    heading says; ``volt_scale`` multiplies all volts. ``word_base`` is "hex", "octal" or "binary" (or 16, 8, 2),
    for words of a bus that do not show it. ``columns`` says by name what single columns are (a factor of its own
    goes before ``volt_scale``), ``time_column`` which one is the time; a file of which the kind of any column is
    said is read by that alone. A file with more than ``most_bytes`` in it, unzipped, is given up.
    Raises CaptureFileError, one sentence with line and column where they exist, and ValueError for a rate, a unit
    of time or a base that is none.
    """
    unit_ps = None if time_unit is None else time_unit_ps(time_unit)
    if time_unit is not None and unit_ps is None:
        raise ValueError(f"found {time_unit!r} as unit of time; expected s, ms, us, ns or ps")
    base = base_number(word_base)
    said = with_time(path, columns, time_column)
    rate_hz = None if sample_rate is None else rate_of(sample_rate)
    options = ReadOptions(as_text(name) if name else file_name(path), rate_hz, unit_ps, base, said, first_row)
    opened = functools.partial(Source, path, progress, delimiter=delimiter, first_row=first_row, most_bytes=most_bytes)
    if any(choice.kind for choice in said.values()):
        capture = _by_columns(opened, layout, options)
    else:
        with contextlib.closing(opened()) as source:
            capture = _with_notes(_read(source, layout, options), source)
        capture = scaled_columns(capture, said, str(path)) if said else capture
    own = frozenset(name for name, choice in said.items() if choice.factor is not None)
    return capture if volt_scale is None else _scaled(capture, volt_scale, own)


def _read(source: Source, layout: str | None, options: ReadOptions) -> Capture:
    return _reader(source, layout, words=options.word_base is not None).read(source, options)


def _by_columns(opened: Callable[[], Source], layout: str | None, options: ReadOptions) -> Capture:
    """By what a person said of the columns; a reader that knows the layout is faster where that comes to the same."""
    with contextlib.closing(opened()) as source:
        head = source.head()
        if not is_as_it_looks(head, options):
            return _with_notes(read_chosen(source, options), source)
        # what is wrong may stand in a column that was left out
        with contextlib.suppress(CaptureFileError):
            return _with_notes(with_columns(_read(source, layout, options), head, options), source)
    with contextlib.closing(opened()) as source:
        return _with_notes(read_chosen(source, options), source)


def _with_notes(capture: Capture, source: Source) -> Capture:
    """With what was left out of the file's bytes."""
    return replace(capture, notes=(*capture.notes, *source.notes)) if source.notes else capture


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


def _reader(source: Source, layout: str | None, *, words: bool) -> Reader:
    """The one reader that claims the file, or that was asked for and claims it too.

    ``words`` says that a base of words is given, so that plain numbers which can be words are no volts.
    """
    head = source.head()
    if words and layout is None and known(head).holds_words:
        layout = known(head).layout_of_words
        return next(r for r in READERS if r.name == layout)
    if layout == SCOPE and known(head).volts is not None:
        return next(r for r in READERS if r.name == layout)
    if layout is None and chosen_columns.recognises(head):
        return READERS[-1]
    # the last of them was asked already where none is named
    not_asked = READERS[:-1] if layout is None else READERS
    claims = tuple(r for r in not_asked if layout in (None, r.name) and r.recognises(head))
    if len(claims) > 1:
        raise AmbiguousCapture(source.path, tuple(r.name for r in claims))
    if claims:
        return claims[0]
    asked = [r.name for r in READERS if layout in (None, r.name)]
    if not asked:
        raise UnknownCapture(
            source.path,
            found=f"no reader for a layout named {layout!r}",
            expected="one of: " + ", ".join(r.name for r in READERS),
            do="Name one of these (--layout), or none.",
        )
    raise UnknownCapture(
        source.path,
        found=f"no rows in a layout that is known (it begins {head.lines[0][:60]!r})",
        expected="one of: " + ", ".join(asked),
        do="Export logic as 0 and 1, or volts with times; or say how it is read (--first-row, --delimiter, --column).",
    )

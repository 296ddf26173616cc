"""From what a person said of columns to a plan, or to a capture without some of them where that is all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import cast

import numpy as np

from tracecore.capture import Capture
from tracecore.errors import UnknownCapture
from tracecore.readers.by_hand.chosen_rows import Planned
from tracecore.readers.by_hand.column_choice import ColumnChoice
from tracecore.readers.by_hand.raw_columns import RawColumn, RawTable, raw_table
from tracecore.readers.refusals import no_base, wrong_width
from tracecore.readers.source import Head, ReadOptions
from tracecore.readers.words.words import with_base, word_column

DECIMAL = ("dec", "decimal")


def is_as_it_looks(head: Head, options: ReadOptions) -> bool:
    """Says a person no more than which columns to leave out, factors of volts, and kinds that the file shows anyway?

    Then a reader that knows the layout does the same, faster.
    """
    table = raw_table(head, options.first_row, options.columns)
    for name, choice in options.columns.items():
        at = table.place(name) if table is not None else None
        if table is None or at is None or choice.base is not None or choice.unit is not None:
            return False
        guess = table.columns[at].guess
        leaves = choice.kind == "leave out" and guess in ("logic", "volts", "leave out")
        if not leaves and (guess == "word" or choice.kind not in (None, guess)):
            return False
    return table is not None


def with_columns(capture: Capture, head: Head, options: ReadOptions) -> Capture:
    """The capture without the columns that are left out, and with the factors of the others. Raises UnknownCapture."""
    table = raw_table(head, options.first_row, options.columns)
    places = {name: table.place(name) for name in options.columns} if table is not None else {}
    named = {table.columns[at].name: options.columns[n] for n, at in places.items() if table and at is not None}
    gone = {name for name, choice in named.items() if choice.kind == "leave out"}
    factors = {name: choice for name, choice in named.items() if choice.factor is not None}
    digital = {name: trace for name, trace in capture.digital.items() if name not in gone}
    analog = {name: trace for name, trace in capture.analog.items() if name not in gone}
    if not digital and not analog:
        raise none_left(capture.path)
    kept = replace(capture, digital=digital, analog=analog)
    kept = scaled_columns(kept, factors, capture.path) if factors else kept
    return replace(kept, facts=(*capture.facts, as_said(options)))


def scaled_columns(capture: Capture, columns: Mapping[str, ColumnChoice], path: str) -> Capture:
    """The capture with volts times the factors of their columns. Raises UnknownCapture for a name that is no volts."""
    analog = dict(capture.analog)
    for name, choice in columns.items():
        if name not in analog:
            known = f"the column {name!r}, which is logic" if name in capture.digital else f"no column {name!r}"
            raise _not_there(path, known, tuple(analog) or capture.channels)
        if choice.factor is not None:
            volts = analog[name].volts.astype(np.float64) * float(choice.factor)
            analog[name] = replace(analog[name], volts=volts.astype(np.float32))
    said = ("columns as said on opening", ", ".join(f"{name} {c.text}" for name, c in columns.items()))
    return replace(capture, analog=analog, facts=(*capture.facts, said))


def none_left(path: str) -> UnknownCapture:
    return UnknownCapture(
        path,
        found="no column of volts, logic or words among those that are left",
        expected="at least one",
        do="Say what one of them is.",
    )


def as_said(options: ReadOptions) -> tuple[str, str]:
    return "columns as said on opening", ", ".join(f"{name} {c.text}" for name, c in options.columns.items())


def _not_there(path: str, found: str, names: tuple[str, ...]) -> UnknownCapture:
    listed = ", ".join(names[:12]) + (f" and {len(names) - 12} more" if len(names) > 12 else "")
    return UnknownCapture(path, found=found, expected=f"one of: {listed}", do="Say it of one of these.")


def column_plan(path: str, table: RawTable, options: ReadOptions) -> tuple[Planned, ...]:
    if table.named > len(table.columns):
        raise wrong_width(path, table.data_line + 1, len(table.columns), f"{table.named} as in the heading")
    said: dict[int, ColumnChoice] = {}
    for name, choice in options.columns.items():
        at = table.place(name)
        if at is None:
            raise _not_there(path, f"no column {name!r}", tuple(c.name for c in table.columns))
        said[at] = choice
    timed = [at for at, choice in said.items() if choice.kind == "time"]
    plan = []
    for at, column in enumerate(table.columns):
        choice = said.get(at, ColumnChoice())
        if (
            choice.kind is None
            and column.guess == "volts"
            and column.title.split()[-1:]
            and column.title.split()[-1].lower() in DECIMAL
        ):
            raise UnknownCapture(
                path,
                found=f"words in decimal under {column.name!r}",
                expected="words in hex, octal or binary",
                do=f"Export this bus in hex, or leave it out (--column '{column.name}=leave out').",
            )
        kind = choice.kind or ("volts" if choice.factor is not None else column.guess)
        if kind == "time" and timed and at not in timed:
            kind = column.second_guess
        planned = Planned(at, column.name, kind, column.scale * float(choice.factor or 1), choice.unit)
        if choice.kind is None:
            planned = replace(planned, form=column.form, levels=column.levels, offset=column.offset)
        elif choice.kind == kind == column.guess:
            planned = replace(planned, form=column.form, levels=column.levels)
        if kind == "word":
            planned = _as_words(path, table, column, planned, choice, options)
        plan.append(planned)
    return tuple(plan)


def _as_words(
    path: str, table: RawTable, column: RawColumn, planned: Planned, choice: ColumnChoice, options: ReadOptions
) -> Planned:
    base = cast("int | None", choice.base) or options.word_base
    title = column.title or column.name
    word = word_column(title, list(column.cells), base or 16)
    if word is None:
        raise UnknownCapture(
            path,
            found=f"{_first(column)!r} under {column.name!r}, said to be words",
            expected="words in hex, octal or binary, such as 3F",
            do="Say another kind of this column.",
        )
    plain = word_column(title, list(column.cells))
    evident = plain.base if plain is not None else None
    if base is None and evident is None:
        raise no_base(path, table.data_line + 1, planned.cell + 1, replace(word, name=column.name))
    return replace(planned, word=with_base(replace(word, base=base or evident), base))


def _first(column: RawColumn) -> str:
    return next((c for c in column.cells if c), "")

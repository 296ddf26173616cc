"""What a person says of columns and of words, as edits of the plan that the file's first lines gave."""

from __future__ import annotations

from dataclasses import replace
from typing import cast

from tracecore.errors import MissingWordBase, UnknownCapture
from tracecore.quantities import time_unit_ps
from tracecore.readers.headings.titles import time_unit_in
from tracecore.readers.plan.column_choice import Choices, ColumnChoice
from tracecore.readers.plan.plan import CHANGES, SAMPLED, SCOPE, Column, Plan
from tracecore.readers.plan.words import with_base, word_column
from tracecore.readers.refusals import wrong_width
from tracecore.readers.source import ReadOptions

_SHOWN = 12


def edited(path: str, plan: Plan | None, options: ReadOptions) -> Plan:
    """The plan as said. Columns of which nothing was said stay what they look like.

    Raises UnknownCapture where a named column is not there or nothing is left, MissingWordBase where the base of words
    must be said.
    """
    if plan is None:
        raise UnknownCapture(
            path,
            found="no rows of cells to say columns of",
            expected="rows of cells with a delimiter between them",
            do="Leave the choice of columns out.",
        )
    if plan.named > len(plan.columns):
        raise wrong_width(path, plan.data_line + 1, len(plan.columns), f"{plan.named} as in the heading")
    said = _places(path, plan, options.columns)
    timed = [at for at, choice in said.items() if choice.kind == "time"]
    columns = []
    for at, column in enumerate(plan.columns):
        choice = said.get(at, ColumnChoice())
        radix = column.title.lower().split()[-1:]
        if choice.kind is None and column.kind == "volts" and radix in (["dec"], ["decimal"]):
            raise UnknownCapture(
                path,
                found=f"words in decimal under {column.name!r}",
                expected="words in hex, octal or binary",
                do=f"Export this bus in hex, or leave it out (--column '{column.name}=leave out').",
            )
        columns.append(_edited(path, plan, column, choice, options, bool(timed) and at not in timed))
    if not any(c.kind not in ("time", "leave out") for c in columns):
        raise UnknownCapture(
            path,
            found="no column of volts, logic or words among those that are left",
            expected="at least one",
            do="Say what one of them is.",
        )
    new = replace(plan, columns=tuple(columns))
    if any(choice.kind for choice in said.values()):
        new = replace(new, wrong=None)
    if {c.kind for c in new.used} != {c.kind for c in plan.used}:
        new = replace(new, layout=SCOPE if new.volts else SAMPLED if new.time is None else CHANGES)
    time = new.time
    if (time and time.cell) != (plan.time and plan.time.cell):
        unknown = time_unit_in(time.title)[1] if time and time.unit_ps is None and not time.form else ""
        new = replace(new, index=None, unknown_unit=unknown, time_heading="")
    return new


def _places(path: str, plan: Plan, choices: Choices) -> dict[int, ColumnChoice]:
    """The choices by the places of their columns; one that says a factor alone is for volts."""
    factors_alone = not any(choice.kind for choice in choices.values())
    names = tuple(c.name for c in (plan.volts if factors_alone and plan.volts else plan.columns))
    said = {}
    for name, choice in choices.items():
        at = plan.place(name)
        if at is None or (factors_alone and plan.columns[at].kind != "volts"):
            known = f"no column {name!r}" if at is None else f"the column {name!r}, which is {plan.columns[at].kind}"
            listed = ", ".join(names[:_SHOWN]) + (f" and {len(names) - _SHOWN} more" if len(names) > _SHOWN else "")
            raise UnknownCapture(path, found=known, expected=f"one of: {listed}", do="Say it of one of these.")
        said[at] = choice
    return said


def _edited(
    path: str, plan: Plan, column: Column, choice: ColumnChoice, options: ReadOptions, not_the_time: bool
) -> Column:
    if choice == ColumnChoice() and column.kind not in ("word", "time"):
        return column
    kind = choice.kind or ("volts" if choice.factor is not None else column.kind)
    if kind == "time" and not_the_time:
        kind = column.second_guess
    factor = float(choice.factor or 1)
    new = replace(column, kind=kind, scale=column.scale * factor, offset=column.offset * factor)
    if choice.unit is not None:
        new = replace(new, unit_ps=time_unit_ps(choice.unit))
    elif choice.kind == "time" and new.unit_ps is None:
        new = replace(new, unit_ps=time_unit_in(column.title)[0])
    if kind != column.kind:
        new = replace(new, form="", levels=(), offset=0.0, word=None)
    return _as_words(path, plan, new, choice, options) if kind == "word" else new


def _as_words(path: str, plan: Plan, column: Column, choice: ColumnChoice, options: ReadOptions) -> Column:
    base = cast("int | None", choice.base) or options.word_base
    word = column.word
    if word is None or choice.base is not None:
        title = column.title or column.name
        word = word_column(title, list(column.cells), base or 16)
        plain = word_column(title, list(column.cells))
        if word is None:
            first = next((c for c in column.cells if c), "")
            raise UnknownCapture(
                path,
                found=f"{first!r} under {column.name!r}, said to be words",
                expected="words in hex, octal or binary, such as 3F",
                do="Say another kind of this column.",
            )
        word = replace(word, base=base or (plain.base if plain is not None else None))
    word = with_base(word, base)
    if word.base is None:
        raise MissingWordBase(
            path,
            line=plan.data_line + 1,
            column=column.cell + 1,
            found=f"words such as {word.first!r} under {column.name!r}, which can be hex, octal or binary",
            expected="a prefix such as 0x, or a heading such as 'D[7:0] (hex)'",
            do="Say its base: word_base (--word-base) as hex, octal or binary.",
        )
    return replace(column, word=word)


def said_fact(choices: Choices) -> tuple[tuple[str, str], ...]:
    """What a person said of columns, as a fact of the capture."""
    said = ", ".join(f"{name} {choice.text}" for name, choice in choices.items())
    return (("columns as said on opening", said),) if said else ()


def left_out_note(plan: Plan, choices: Choices) -> tuple[str, ...]:
    """Columns that nobody said to leave out, and that are not blank; a preamble beside the rows stands before them."""
    said = {plan.place(name) for name in choices}
    timed = any(choice.kind == "time" for choice in choices.values())
    first = plan.time.cell if plan.time is not None and not plan.by_cells and not timed else -1
    gone = [c for c in plan.columns if c.kind == "leave out" and any(c.cells) and c.cell > first]
    names = [c.name for c in gone if c.cell not in said]
    return (f"Left out, as they hold no logic and no volts: {', '.join(names[:12])} (--column).",) if names else ()

"""What the command line prints: tables and sentences on any terminal, plain text where piped."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import IO, TYPE_CHECKING, Any, TextIO

from app.comparison_text import (
    IN_FULL,
    SEVERITY_MARKS,
    SHOW_IN_TERMINAL,
    VERDICT_MARKS,
    capture_line,
    next_step,
    pin_text,
    repeats_sentences,
    skew_text,
    summary_of,
    varies_sentences,
)
from app.harmless import plain
from app.report.cautions import AT_THE_PINS
from tracecore.name_lists import few_names
from tracecore.quantities import format_instant, format_rate, group_digits

if TYPE_CHECKING:
    from rich.console import Console

    from tracecore.capture import Capture
    from tracecore.circuit.probe_sheet import ProbeSheet
    from tracecore.compare.findings import SignalFinding
    from tracecore.comparison import Comparison, Progress
    from tracecore.measure.checkup import Checkup

PIPED_WIDTH = 10_000
"""Wide enough that piped lines are never broken."""
NARROW = 100
"""Below this a table would squeeze its columns: signals are then listed one under the other."""
MOST_CHANNELS = 32
MOST_CLOCKS = 4
EVEN = 0.5
"""Regularity from which a signal is named as a candidate for the clock."""
SCREENFUL = 24
HEADINGS = ("Signal", "Pin", "Verdict", "Fault mode", "Cycle", "Good", "Suspect", "Skew", "Missing", "Extra")
_PLAIN = str.maketrans(
    {"\u202f": " ", "\u2212": "-", "±": "+/-", "µ": "u", "·": "-", "–": "-", "✓": " ", "▲": "!", "○": "o"}
)
_KINDS = {"fine": "✓ fine", "look": "? look", "bad": "▲ bad "}


def console(stream: TextIO) -> Console:
    """A console without any codes where the stream is no terminal or NO_COLOR is set (no-color.org)."""
    from rich.console import Console

    class Honest(Console):
        """Leaves a closed pipe to the caller: rich would end with status 1, which here claims a divergence."""

        def on_broken_pipe(self) -> None:
            raise BrokenPipeError

        def print(self, *objects: Any, **how: Any) -> None:
            """Words in letters that the stream can carry, without codes that a terminal would obey."""
            super().print(*(fit(thing, stream) if isinstance(thing, str) else thing for thing in objects), **how)

    terminal = stream.isatty()
    coloured = terminal and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
    return Honest(
        file=stream,
        force_terminal=coloured,
        color_system="auto" if coloured else None,
        width=None if terminal else PIPED_WIDTH,
        markup=False,
        highlight=False,
        emoji=False,
    )


def fit(text: str, stream: IO[str]) -> str:
    """The text in letters that the stream can carry."""
    text = plain(text)
    encoding = getattr(stream, "encoding", None) or "utf-8"
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        return text.translate(_PLAIN).encode(encoding, "replace").decode(encoding)
    return text


def say(sentence: str) -> None:
    """One sentence on stderr."""
    print(fit(sentence, sys.stderr), file=sys.stderr)


@contextmanager
def progress() -> Iterator[Progress]:
    """A progress line on stderr while work goes on, on a terminal only; gone when it is done."""
    if not sys.stderr.isatty():
        yield lambda share, what: None
        return
    from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn

    columns = (TextColumn("{task.description}", markup=False), BarColumn(), TaskProgressColumn())
    with Progress(*columns, console=console(sys.stderr), transient=True) as shown:
        task = shown.add_task("", total=1.0)
        yield lambda share, what: shown.update(task, completed=share, description=what)


def print_comparison(comparison: Comparison, stream: TextIO) -> None:
    """The outcome, the verdict of each signal, likely causes, notices and one line of caution."""
    from app.report.cautions import SHORT

    out = console(stream)
    summary = summary_of(comparison)
    _line(out, summary.headline, "bold")
    if do := next_step(comparison.outcome, SHOW_IN_TERMINAL):
        _line(out, do)
    _line(out, summary.lineup)
    if comparison.request.wire_list is not None:
        _line(out, comparison.request.wire_list.use({s.signal for s in comparison.signals}))
    if captures := _captures(comparison):
        _line(out, captures)
    out.print()
    rows = [_cells(s) for s in comparison.signals]
    if out.width < NARROW:
        _print_list(out, rows)
    else:
        _print_table(out, rows)
    for cause in comparison.causes[:IN_FULL]:
        place = comparison.signal(cause.signal).place
        out.print()
        _line(out, f"{cause.rank}. {cause.heading(place)}", "bold")
        shown = cause.shows_as(place) if cause.chip is not None else ""
        for sentence in (shown, cause.summary, *cause.because):
            if sentence:
                _line(out, f"   {sentence}")
        _line(out, f"   Probe next: {cause.probe_next}")
        _line(out, f"   {AT_THE_PINS}")
    _print_further(out, comparison)
    for group in (repeats_sentences(comparison.repeats), varies_sentences(comparison.tolerance)):
        if group:
            out.print()
        for sentence in group:
            _line(out, sentence)
    if comparison.notices:
        out.print()
    for notice in comparison.notices:
        _line(out, f"{SEVERITY_MARKS[notice.severity]} {notice.sentence}")
    out.print()
    _line(out, SHORT)


def _print_further(out: Console, comparison: Comparison) -> None:
    """The other likely causes, one line each: dozens of signals may follow one stuck net."""
    further = comparison.causes[IN_FULL:]
    if not further:
        return
    out.print()
    _line(out, "Further likely causes, often consequences of these; --out writes what speaks for them:")
    for cause in further:
        since = "" if cause.since_cycle is None else f", from cycle {group_digits(cause.since_cycle)}"
        _line(out, f"{cause.rank}. {cause.heading(comparison.signal(cause.signal).place)}{since}")


def _captures(comparison: Comparison) -> str:
    """In which of several suspect captures anything differs; empty where there is one."""
    seen = comparison.captures
    if len(seen) < 2:
        return ""
    names = [s.name for s in seen if s.differs]
    compared = sum(s.counts for s in seen)
    if not compared:
        return "Nothing can be said of any suspect capture."
    text = f"{group_digits(len(names))} of {group_digits(compared)} suspect captures diverge"
    text += "s" if len(names) == 1 else ""
    if names:
        text += f": {few_names(names, 6)}"
    return text + "."


def _cells(s: SignalFinding) -> tuple[str, ...]:
    first = s.first_divergence
    return (
        s.signal,
        pin_text(s),
        f"{VERDICT_MARKS[s.verdict]} {s.verdict}",
        s.fault_mode or "",
        group_digits(first.cycle) if first else "",
        format_instant(first.good_ps) if first else "",
        format_instant(first.suspect_ps) if first else "",
        skew_text(s.skew),
        group_digits(s.missing_transitions) if s.missing_transitions else "",
        group_digits(s.extra_transitions) if s.extra_transitions else "",
    )


def _print_table(out: Console, rows: list[tuple[str, ...]]) -> None:
    from rich.box import SQUARE
    from rich.table import Table
    from rich.text import Text

    # box-drawing letters need a stream that can carry them; rich falls back to ASCII by itself
    table = Table(box=SQUARE if out.file.isatty() else None, pad_edge=False, show_edge=False)
    for heading in HEADINGS:
        number = heading in HEADINGS[4:]
        table.add_column(heading, justify="right" if number else "left", overflow="fold")
    for row in rows:
        style = "bold" if row[3] else ""
        table.add_row(*(Text(fit(cell, out.file), style=style) for cell in row))
    if out.file.isatty():
        out.print(table)
        return
    # rich pads the last column: trailing blanks are of no use in a file
    with out.capture() as captured:
        out.print(table)
    for line in captured.get().splitlines():
        out.print(line.rstrip(), soft_wrap=True)


def _print_list(out: Console, rows: list[tuple[str, ...]]) -> None:
    for row in rows:
        _line(out, f"{row[0]}  {row[1]}  {row[2]}{f', {row[3]}' if row[3] else ''}", "bold" if row[3] else "")
        facts = [f"{heading} {cell}" for heading, cell in zip(HEADINGS[4:], row[4:], strict=True) if cell]
        if facts:
            _line(out, "   " + ", ".join(facts))


def print_checkup(capture: Capture, checkup: Checkup, sheet: ProbeSheet, stream: TextIO) -> None:
    """What is in one capture, in under a screenful: what does not fit is counted, never the worst of it."""
    out = console(stream)
    names = [sheet.probe(c).signal for c in capture.channels]
    head = [capture.path or capture.name, f"   {capture_line(capture)}"]
    head.append(f"   Signals: {few_names(names, MOST_CHANNELS)}")
    even = [f"{c.signal} {format_rate(c.rate_hz)}" for c in checkup.clocks if c.regularity >= EVEN]
    if len(even) > 1:
        # the first is the clock of the check-up's own line
        head.append(f"   Tick evenly too, most of the time: {', '.join(even[1:MOST_CLOCKS])}")
    found = [f"   {_KINDS[line.kind]}  {line.text}" for line in checkup.lines]
    width = min(out.width, NARROW)
    room = SCREENFUL - 3 - sum(_rows(text, width) for text in head)
    shown = 0
    while shown < len(found) and (shown == 0 or room >= _rows(found[shown], width)):
        room -= _rows(found[shown], width)
        shown += 1
    _line(out, head[0], "bold")
    for text in (*head[1:], *found[:shown]):
        _line(out, text)
    if shown < len(found):
        _line(out, f"   and {len(found) - shown} more, none worse than these")
    if any(line.kind != "fine" for line in checkup.lines):
        _line(out, f"   {AT_THE_PINS}")


def _rows(text: str, width: int) -> int:
    return -(-len(text) // max(1, width))


def _line(out: Console, text: str, style: Any = "") -> None:
    out.print(fit(text, out.file), style=style or None, overflow="fold")

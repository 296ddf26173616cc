"""Captures and comparisons in a line of text, and as a few lines of HTML for a notebook."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from typing import TYPE_CHECKING

from tracecore.cautions import AT_THE_PINS
from tracecore.own_names import file_channels
from tracecore.quantities import format_time, group_digits

if TYPE_CHECKING:
    from tracecore.capture import Capture
    from tracecore.comparison import Comparison

MOST_ROWS = 40
"""A notebook's cell shows so many rows; tables hold all."""


def capture_text(capture: Capture) -> str:
    """``Capture north.csv: 21 channels, 4.2 ms, one sample in 41.67 ns``."""
    counts = ((len(file_channels(capture.digital, capture.reader)), "logic channel"), (len(capture.analog), "channel"))
    channels = " and ".join(
        f"{n} {word}{'' if n == 1 else 's'}{' in volts' if word == 'channel' else ''}" for n, word in counts if n
    )
    lasts = format_time(capture.stop_ps - capture.start_ps)
    if capture.row_is_cycle:
        return f"Capture {capture.name}: {channels}, each row a cycle of the board's clock"
    return f"Capture {capture.name}: {channels}, {lasts}, one sample in {format_time(capture.resolution_ps)}"


def capture_html(capture: Capture) -> str:
    """The line, and each channel with how often it changes."""
    rows: list[tuple[str, ...]] = [
        (name, "logic", group_digits(len(trace.times_ps) - 1)) for name, trace in capture.digital.items()
    ]
    rows += [(name, "volts", "") for name in capture.analog]
    return _block(capture_text(capture), capture.notes, ("Channel", "Kind", "Transitions"), rows)


def comparison_text(comparison: Comparison) -> str:
    """``Comparison (diverges): ...``, the headline of every other output."""
    outcome = comparison.outcome
    return f"Comparison ({outcome.word}): {outcome.headline}"


def comparison_html(comparison: Comparison) -> str:
    """The headline, what to do, the first likely cause with the caution, and each signal in short."""
    outcome = comparison.outcome
    lines = [outcome.do] if outcome.do else []
    if comparison.causes:
        first = comparison.causes[0]
        lines += [
            f"Likely cause: {first.heading()}",
            *filter(None, (first.summary,)),
            f"Probe next: {first.probe_next}",
            AT_THE_PINS,
        ]
    lines += [own.sentence for own in comparison.notices if own.severity == "doubt"]
    rows = []
    for s in comparison.signals:
        at = s.first_divergence
        rows.append(
            (
                s.signal,
                s.place,
                s.verdict,
                s.fault_mode or "",
                "" if at is None else group_digits(at.cycle),
                f"{group_digits(len(s.diverging_cycles))} of {group_digits(s.compared_cycles)}",
            )
        )
    head = ("Signal", "Pin", "Verdict", "Fault", "First cycle", "Cycles that diverge")
    return _block(outcome.headline, lines, head, rows)


def _block(title: str, lines: Iterable[str], head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Everything from a file is escaped: a name may hold anything."""
    shown = [_row("td", row) for row in rows[:MOST_ROWS]]
    more = len(rows) - MOST_ROWS
    under = f"<p>and {group_digits(more)} more</p>" if more > 0 else ""
    said = "".join(f"<p>{escape(line)}</p>" for line in lines)
    return f"<p><b>{escape(title)}</b></p>{said}<table>{_row('th', head)}{''.join(shown)}</table>{under}"


def _row(kind: str, cells: Sequence[str]) -> str:
    return f"<tr>{''.join(f'<{kind}>{escape(cell)}</{kind}>' for cell in cells)}</tr>"

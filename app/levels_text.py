"""Levels in words, for the terminal, the page and the report alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tracecore.quantities import format_volts

if TYPE_CHECKING:
    from tracecore.compare.signal_levels import SignalLevels


_LEAST_V = 0.005
"""What shows as 0.00 V is no difference that a bench meter would see."""


def shift_words(row: SignalLevels) -> list[str]:
    """How far the usual low and high and the rise time differ between the sides, with what that reads to; nothing that
    is not known."""
    out = []
    for words, shift in (("usual low", row.low_shift), ("usual high", row.high_shift)):
        if shift is not None:
            reads_to = format_volts(max(shift.reads_to, 2 * _LEAST_V))
            if not shift.tells or abs(shift.value) < _LEAST_V:
                out.append(f"{words} is as on good, within ±{reads_to}")
                continue
            sign = "+" if shift.value >= 0 else ""
            out.append(f"{words} differs by {sign}{format_volts(shift.value)} ±{reads_to}")
    if row.rise_ratio is not None:
        out.append(f"rise takes {row.rise_ratio.value:.2f} ±{row.rise_ratio.reads_to:.2f} times the good one's")
    return out


def too_slow(row: SignalLevels) -> bool:
    """Is the instrument too slow to tell the rise time of the side that is judged?"""
    judged = row.suspect or row.good
    if judged is None or judged.rising.median_ps is None:
        return False
    return judged.signal_transition_ps(True) is None

"""Pulses so short that the other side's instrument may have missed them: each alone says nothing, many on one side do.

A pulse of duration w falls between two samples a period T apart with the chance 1 - w/T, so of pulses that both boards
make the side with the shorter period shows more, in the ratio of the periods at most (common practice). What goes
beyond that is no chance.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from tracecore.compare.divergence import BOARD_ALLOWANCE_PS, Divergence, Limits
from tracecore.measure.chance import chance_bound
from tracecore.notices import Notice, notice
from tracecore.quantities import group_digits

_BY_CHANCE = 1e-6
_MOST_NAMES = 6


def short_pulse_notices(found: Mapping[str, Divergence], limits: Limits) -> Iterator[Notice]:
    """Of the signals that do not diverge otherwise: those with many more short pulses on one side, one notice; those
    with some that have no twin, another."""
    many: list[str] = []
    few: list[str] = []
    for signal, own in found.items():
        if not len(own.cycles) and any(map(len, own.matching.short_pulses_ps)):
            (many if one_sided(own, limits) else few).append(signal)
    for code, signals in (("short_pulses_one_side", many), ("short_pulses", few)):
        if signals:
            words = ", ".join(_counts(s, found[s]) for s in signals[:_MOST_NAMES])
            more = f" and {len(signals) - _MOST_NAMES} more signals" if len(signals) > _MOST_NAMES else ""
            said = "more often than chance hides them" if signals is many else "which the other side may have missed"
            text = f"Pulses too short to be seen surely, without a twin, {said} (good and suspect): {words}{more}."
            yield notice(code, text, signals=tuple(signals))


def one_sided(found: Divergence, limits: Limits) -> bool:
    """Does one side show more short pulses than two boards that make the same ones, under these two instruments?

    Two sound boards' parts may make a pulse of a few nanoseconds on one of them alone: where the samples are so near
    that these show, they do not count. Nor do pulses of one sample where the sampling keeps step with the clock, since
    it may hit all of them on one side, and none on the other."""
    periods = limits.good_period_ps, limits.suspect_period_ps
    counts = []
    for short_ps, period in zip(found.matching.short_pulses_ps, periods, strict=True):
        least = period if limits.feigned_ps else 0
        if period <= BOARD_ALLOWANCE_PS:
            least = period + BOARD_ALLOWANCE_PS
        counts.append(int(np.count_nonzero(short_ps > least)))
    pairs = found.matching.short_pairs
    for side in (0, 1):
        finer = max(1.0, periods[1 - side] / max(1, periods[side]))
        seen = counts[side] + pairs
        if float(chance_bound(seen, sum(counts) + 2 * pairs, finer / (1 + finer))) < _BY_CHANCE:
            return True
    return False


def _counts(signal: str, found: Divergence) -> str:
    good, suspect = (group_digits(len(own)) for own in found.matching.short_pulses_ps)
    return f"{signal} {good} and {suspect}"

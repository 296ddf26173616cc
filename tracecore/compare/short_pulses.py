"""Pulses so short that the other side's instrument may have missed them: each alone says nothing, many on one side do.

A pulse of duration w falls between two samples a period T apart with the chance 1 - w/T, so of pulses that both boards
make the side with the shorter period shows more, in the ratio of the periods at most (common practice). What goes
beyond that is no chance. Nor is it where one side shows pulses so wide that the other should have hit some, and hit
none, nor where it shows any at moments of the cycle at which the other never moves. Where the other side is sampled so
much slower that it may have missed all of many, whether it makes them too is not known, and nothing agrees. Nor does
anything where what differs may be short pulses.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial

import numpy as np

from tracecore.capture import DigitalTrace, Int64
from tracecore.compare.divergence import BOARD_ALLOWANCE_PS, Divergence, Limits
from tracecore.compare.pulse_places import shared
from tracecore.measure.chance import RARE, chance_bound
from tracecore.notices import Notice, notice
from tracecore.quantities import format_time, group_digits

_BY_CHANCE = 1e-6
_SETTLES = 12
"""So many short pulses without a twin on either side: the two settle each in its own way. A choice."""
_MOST_NAMES = 6
SLOWER, UNSEEN = 2, 15
"""A side sampled so many times slower, which shows none of so many pulses of the other side, may have missed them all.
A choice: fewer and far between is what gates of a sound board make that settle at unlike times."""


def short_pulse_notices(
    found: Mapping[str, Divergence], limits: Limits, starts_ps: Int64, good: Mapping[str, DigitalTrace]
) -> Iterator[Notice]:
    """Of the signals that do not diverge otherwise: those with many more short pulses on one side, one notice; those
    whose many pulses the other side was too slow to show, another; those that make some where in the cycle the other
    side never moves, a third; those with some that have no twin, a fourth. Those in which unseen pulses may hide a
    difference, those in which both of these are how the board settles, and those with a few transitions barely off,
    have one more each. ``starts_ps`` are the compared cycles' on the good axis, ``good`` that side's signals."""
    how_many_shared = partial(_how_many_shared, found=found, good=good, starts_ps=starts_ps, reach_ps=limits.reach_ps)
    many: list[str] = []
    hidden: list[str] = []
    strange: dict[str, tuple[int, int]] = {}
    few: list[str] = []
    unsure: dict[str, int] = {}
    settles: dict[str, int] = {}
    barely: dict[str, int] = {}
    for signal, own in found.items():
        if len(own.cycles):
            continue
        if own.matching.barely:
            barely[signal] = own.matching.barely
        left = own.matching.doubtful - own.hazy_in_place - how_many_shared(signal, own.double_pulses)
        if own.matching.doubtful:
            (unsure if left else settles)[signal] = own.matching.doubtful
        if not any(map(len, own.matching.short_pulses_ps)):
            continue
        if one_sided(own, limits):
            many.append(signal)
        elif on_finer_side_alone(own, limits):
            hidden.append(signal)
        elif not (count := sum(map(len, own.strange_pulses))):
            few.append(signal)
        elif how_many_shared(signal, own.strange_pulses) < count:
            strange[signal] = len(own.strange_pulses[0]), len(own.strange_pulses[1])
        else:
            settles[signal] = settles.get(signal, 0) + count
    if strange:
        words = _listed(strange)
        text = f"Short pulses at moments of the cycle at which the other side never moves (good and suspect): {words}."
        yield notice("short_pulses_out_of_place", text, signals=tuple(strange))
    if unsure:
        text = f"Early, late, or longer than the other side shows, as short pulses would make it: {_how_often(unsure)}."
        yield notice("short_pulses_may_hide", text, signals=tuple(unsure))
    if settles:
        text = f"Short pulses, or what they make of a transition, where both sides settle: {_how_often(settles)}."
        yield notice("short_pulses_settling", text, signals=tuple(settles))
    if barely:
        words = _how_often(barely)
        text = f"Early or late by a little more than the tolerance, in at most 1 % of the transitions: {words}."
        yield notice("barely_off", text, signals=tuple(barely))
    for code, signals, said in (
        ("short_pulses_one_side", many, "more often than chance hides them"),
        ("short_pulses", few, "which the other side may have missed"),
    ):
        if signals:
            words = _listed(_counts(signals, found))
            text = f"Pulses too short to be seen surely, on one side, {said} (good and suspect): {words}."
            yield notice(code, text, signals=tuple(signals))
    if hidden:
        periods = limits.good_period_ps, limits.suspect_period_ps
        slow = int(periods[1] > periods[0])
        text = (
            f"Sampled every {format_time(periods[slow])}, the {('known-good', 'suspect')[slow]} side may have missed "
            f"short pulses that the other shows (good and suspect): {_listed(_counts(hidden, found))}."
        )
        yield notice("short_pulses_finer", text, signals=tuple(hidden))


def _how_many_shared(
    signal: str,
    spans: tuple[Int64, Int64],
    found: Mapping[str, Divergence],
    good: Mapping[str, DigitalTrace],
    starts_ps: Int64,
    reach_ps: int,
) -> int:
    """How many of a signal's pulses, int64[N, 2] of either side, other signals share."""
    count = 0
    for side, ends in enumerate(spans):
        if len(ends):
            both = ((good[s].times_ps[1:], own.suspect_on_good.times_ps[1:]) for s, own in found.items() if s != signal)
            others = both if side == 0 else (pair[::-1] for pair in both)
            count += int(np.count_nonzero(shared(ends, others, starts_ps, reach_ps)))
    return count


def one_sided(found: Divergence, limits: Limits) -> bool:
    """Does one side show more short pulses than two boards that make the same ones, under these two instruments?

    Two sound boards' parts may make a pulse of a few nanoseconds on one of them alone: where the samples are so near
    that these show, they do not count. Nor do pulses of one sample where the sampling keeps step with the clock, since
    it may hit all of them on one side, and none on the other."""
    periods = limits.good_period_ps, limits.suspect_period_ps
    if _settle_apart(found, limits):
        return False
    if _too_many_unseen(found, limits):
        return True
    counts = []
    for short_ps, period in zip(_drawn(found), periods, strict=True):
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


def _settle_apart(found: Divergence, limits: Limits) -> bool:
    """Do both sides make many that lack a twin, none of them clearly more than its finer samples explain? Two sound
    boards' parts settle each in its own way."""
    counts = [len(own) for own in _drawn(found)]
    periods = limits.good_period_ps, limits.suspect_period_ps
    finer = [max(1.0, periods[1 - side] / max(1, periods[side])) for side in (0, 1)]
    bounds = [chance_bound(own, sum(counts), more / (1 + more)) for own, more in zip(counts, finer, strict=True)]
    return min(counts) >= _SETTLES and float(min(bounds)) >= RARE


def _too_many_unseen(found: Divergence, limits: Limits) -> bool:
    """Should the other side have hit more of the pulses that one side shows, by how long they last? The chance grows
    from none, for a pulse that two sound boards' parts may make on one of them alone, to one, for a pulse too wide to
    be missed. Only where the other's samples drift against its clock is each pulse a draw of its own."""
    sides, twins = _drawn(found), found.matching.short_pairs
    for own, other, in_step in zip(sides, sides[::-1], limits.in_step[::-1], strict=True):
        if in_step or not len(own):
            continue
        seen = np.clip((own - BOARD_ALLOWANCE_PS) / (limits.narrowest_ps - BOARD_ALLOWANCE_PS), 0, 1)
        trials = len(own) + len(other) + twins
        if float(chance_bound(len(own), trials, 1 - float(seen.mean()))) < RARE:
            return True
    return False


def _drawn(found: Divergence) -> tuple[Int64, Int64]:
    """How long the short pulses of either side last that are draws of their own."""
    good, suspect = (own[at] for own, at in zip(found.matching.short_pulses_ps, found.draws, strict=True))
    return good, suspect


def on_finer_side_alone(found: Divergence, limits: Limits) -> bool:
    """Does one side show many short pulses of which the other, sampled much slower, shows none at all?"""
    sides, periods = found.matching.short_pulses_ps, (limits.good_period_ps, limits.suspect_period_ps)
    fine = int(periods[1] < periods[0])
    slow = 1 - fine
    none = not len(sides[slow]) and not found.matching.short_pairs
    return none and periods[slow] >= SLOWER * periods[fine] and len(sides[fine]) >= UNSEEN


def _how_often(counts: Mapping[str, int]) -> str:
    few = list(counts.items())[:_MOST_NAMES]
    words = ", ".join(f"{signal} {'once' if n == 1 else f'{group_digits(n)} times'}" for signal, n in few)
    return f"{words} and {len(counts) - _MOST_NAMES} more signals" if len(counts) > _MOST_NAMES else words


def _counts(signals: list[str], found: Mapping[str, Divergence]) -> dict[str, tuple[int, int]]:
    """How many short pulses each signal shows on either side."""
    pulses = {signal: found[signal].matching.short_pulses_ps for signal in signals}
    return {signal: (len(good), len(suspect)) for signal, (good, suspect) in pulses.items()}


def _listed(counts: Mapping[str, tuple[int, int]]) -> str:
    few = list(counts.items())[:_MOST_NAMES]
    words = ", ".join(f"{signal} {group_digits(good)} and {group_digits(suspect)}" for signal, (good, suspect) in few)
    return f"{words} and {len(counts) - _MOST_NAMES} more signals" if len(counts) > _MOST_NAMES else words

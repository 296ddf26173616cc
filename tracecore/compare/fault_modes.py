"""Names the kind of fault a signal shows, with the evidence in sentences.

The modes are tried from the plainest to the vaguest; the first that fits is the name. A name says what
the signal does, not why: what may be behind it is said where the causes are ranked.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from tracecore.capture import HIGH, LOW, UNKNOWN, DigitalTrace, UInt8
from tracecore.compare.divergence import Divergence
from tracecore.compare.fault_kinds import FaultKind
from tracecore.compare.fault_mode import (
    FaultMode,
    are,
    counted,
    decided_on_both,
    share_alike,
    start_index,
    verb_for,
)
from tracecore.compare.findings import LevelViolation, Ties
from tracecore.compare.joined_nets import follows_by_chance, joined
from tracecore.compare.now_and_then import comes_and_goes, followed_now_and_then
from tracecore.compare.shifted_modes import shifted, whole_cycles
from tracecore.compare.standing_still import stands_still, stretches_of_standing_still
from tracecore.measure.clock import known_transitions
from tracecore.quantities import format_time, format_volts, group_digits

_ALIKE = 0.995
_FEWEST = 4  # transitions of the good side without which nothing is said of standing still
_RARE = 0.10


def name_fault(
    signal: str,
    found: Divergence,
    violations: tuple[LevelViolation, ...],
    others: Mapping[str, Divergence],
    cycle_ps: int,
) -> FaultMode:
    """The fault mode of a signal that diverges.

    ``violations`` are those of the suspect that the good side does not show; ``others`` all compared
    signals, for "follows"; ``cycle_ps`` the good clock's median cycle.
    """
    for mode in (
        _weak(violations),
        _unknown(found),
        _stuck(found),
        _stuck_for_a_while(found),
        _inverted(found),
        _follows(signal, found, others),
        shifted(found, cycle_ps),
        _pulses(found),
    ):
        if mode is not None:
            return mode
    mode, whole = _vague(signal, found, others), whole_cycles(found, cycle_ps)
    lone = len(found.matching.missing) + len(found.matching.extra)
    if 2 * whole <= len(found.moved_by_ps) + lone:
        return mode
    come = f"{counted(whole, 'transition')} {verb_for(whole, 'come')}"
    return replace(mode, because=(*mode.because, f"{come} whole cycles early or late, as a wrong state makes it."))


def never_known(found: Divergence, good: DigitalTrace, suspect: DigitalTrace) -> Divergence:
    """The divergence of a signal that is unknown throughout on a side: nothing of its transitions can be told, and
    those that are missing are no difference. Any other signal's is left as it is."""
    if (good.levels != UNKNOWN).any() and (suspect.levels != UNKNOWN).any():
        return found
    none = np.empty(0, np.int64)
    matching = replace(found.matching, missing=none, extra=none, moved_good=none, moved_suspect=none)
    return replace(found, first=None, cycles=none, matching=matching, ties=Ties(), skew=None, moved_by_ps=none)


def _weak(violations: tuple[LevelViolation, ...]) -> FaultMode | None:
    """Levels that no input is promised to read explain every later doubt about the state."""
    steady = [v for v in violations if v.kind == "steady mid-level"]
    if steady:
        volts = format_volts(steady[0].volts)
        return FaultMode(
            f"steady mid-level {steady[0].volts:.1f} V",
            FaultKind.STEADY_MID_LEVEL,
            (
                f"It rests at {volts} for {format_time(steady[0].stop_ps - steady[0].start_ps)}, neither low nor high.",
                "An open input rests between 1.1 and 1.8 V, so the path to its driver may be open.",
            ),
        )
    kinds = (FaultKind.WEAK_LOW, FaultKind.WEAK_HIGH, FaultKind.UNDEFINED)
    # the most frequent one names the fault
    for kind in sorted(kinds, key=lambda k: -sum(v.kind == k for v in violations)):
        rests = [v.volts for v in violations if v.kind == kind]
        if rests:
            limit = next(v.limit_v for v in violations if v.kind == kind)
            middle = float(np.median(rests))
            turned = sum(v.kind == "runt" for v in violations)
            because = [
                f"It rests at {format_volts(middle)} in {counted(len(rests), 'place')}; the limit there is "
                f"{format_volts(limit)}, and the good side keeps it."
            ]
            if turned:
                turn = f"{counted(turned, 'pulse')} {verb_for(turned, 'turn')}"
                because.append(f"{turn} back before reaching the other level (runts).")
            return FaultMode(f"{kind} {middle:.1f} V", kind, tuple(because))
    runts = [v.volts for v in violations if v.kind == "runt"]
    if runts:
        return FaultMode(
            "runts",
            FaultKind.RUNTS,
            (
                f"{counted(len(runts), 'pulse')} {verb_for(len(runts), 'turn')} back before reaching the other "
                f"level, most at about {format_volts(float(np.median(runts)))}.",
            ),
        )
    slow = [v for v in violations if v.kind == "slow transition"]
    if slow:
        return _slow(slow)
    return None


def _slow(slow: list[LevelViolation]) -> FaultMode:
    """Slow both ways, or a rise alone: then it is what pulls the line up."""
    longest = format_time(max(v.stop_ps - v.start_ps for v in slow))
    # a rise is held to the least high, which lies above it
    rises = sum(v.volts < v.limit_v for v in slow)
    if rises >= _FEWEST and len(slow) - rises <= _RARE * len(slow):
        said = f"{counted(rises, 'rise')} {verb_for(rises, 'stay')} between low and high for up to {longest}"
        return FaultMode(
            "slow rise", FaultKind.SLOW_RISE, (f"{said}; the falls are quick. Levels has the rise from 10 to 90 %.",)
        )
    return FaultMode(
        "slow transitions",
        FaultKind.SLOW_TRANSITIONS,
        (f"{counted(len(slow), 'transition')} {verb_for(len(slow), 'stay')} between low and high, up to {longest}.",),
    )


def _unknown(found: Divergence) -> FaultMode | None:
    """It is neither low nor high in most cycles in which the good side is one of them: that is not standing still.
    Logic that moves with the clock's edge is undecided there, but never between the levels."""
    if not (found.suspect_on_good.levels == UNKNOWN).any():
        return None
    start = start_index(found)
    good, suspect = found.good_states[start:], found.suspect_states[start:]
    decided = good != UNKNOWN
    count = int(np.count_nonzero(decided & (suspect == UNKNOWN)))
    if count < _FEWEST or 2 * count < int(np.count_nonzero(decided)):
        return None
    return FaultMode(
        "neither low nor high",
        FaultKind.NEITHER_LOW_NOR_HIGH,
        (f"It is unknown in {counted(count, 'cycle')} in which the good side is low or high.",),
    )


def _stuck(found: Divergence) -> FaultMode | None:
    """From the suspect's last transition on it stands still while the good side moves."""
    known = np.flatnonzero(found.suspect_states != UNKNOWN)
    if not len(known) or not len(found.cycles):
        return None
    level = int(found.suspect_states[known[-1]])
    away = known[found.suspect_states[known] != level]
    since = int(away[-1]) + 1 if len(away) else 0
    # cycles before it stood still may differ by a cycle at most: a fault that came later has another name
    first = found.index_of(int(found.cycles[0]))
    if first < since - 2:
        return None
    still = found.suspect_states[since:]
    if 10 * np.count_nonzero(still == UNKNOWN) > len(still):
        return None
    good = _known(found.good_states[since:])
    moves = int((good[1:] != good[:-1]).sum())
    # one that never moves and is wrong from the first cycle on is stuck however seldom the good side moves
    never = (
        bool(found.differing[0])
        and found.first is not None
        and not (known_transitions(found.suspect_on_good).times_ps[1:] > found.first.good_ps).any()
    )
    if not moves or (moves < _FEWEST and not never) or not stands_still(found, moves):
        return None
    word = "low" if level == LOW else "high"
    cycle = group_digits(int(found.cycles[0]))
    head = f"It is {word} from cycle {cycle} to the end" if len(away) else f"It is {word} in the whole capture"
    return FaultMode(
        f"stuck {word}", FaultKind(f"stuck {word}"), (f"{head}, while the good side changes {counted(moves, 'time')}.",)
    )


def _stuck_for_a_while(found: Divergence) -> FaultMode | None:
    """It stands still at one level for a while, and is right before and after."""
    held = stretches_of_standing_still(found)
    if not held or len({own.level for own in held}) > 1:
        return None
    word = "low" if held[0].level == LOW else "high"
    places = ", ".join(f"{group_digits(own.first)} to {group_digits(own.last)}" for own in held)
    moves, cycles = sum(own.moves for own in held), sum(own.last - own.first + 1 for own in held)
    where = "cycle" if len(held) == 1 else "cycles"
    right = "before and after" if found.good_cycles[0] < held[0].first else "after"
    if len(held) > 1:
        right = "everywhere else"
    said = f"It is {word} from {where} {places}, while the good side changes {counted(moves, 'time')}"
    kind = FaultKind(f"stuck {word}")
    return FaultMode(
        f"stuck {word} for {counted(cycles, 'cycle')}", kind, (f"{said}; it is right {right}.",), until=held[-1].last
    )


def _inverted(found: Divergence) -> FaultMode | None:
    start = start_index(found)
    g, s = decided_on_both(found.good_states[start:], found.suspect_states[start:])
    if len(g) < 8 or not _moves(g):
        return None
    share = float((g != s).mean())
    if share < 0.98:
        return None
    return FaultMode(
        "inverted", FaultKind.INVERTED, (f"It is the opposite of the good side in {share:.1%} of the cycles.",)
    )


def _follows(signal: str, found: Divergence, others: Mapping[str, Divergence]) -> FaultMode | None:
    """Another signal's states stand on this one; on the good side the two are different signals."""
    start = start_index(found)
    own, own_good = found.suspect_states[start:], found.good_states[start:]
    if not _moves(own):
        return None
    best: tuple[float, str] | None = None
    for name, other in others.items():
        if name == signal:
            continue
        theirs, theirs_good = other.suspect_states[start:], other.good_states[start:]
        alike = share_alike(own, theirs)
        if alike is None or alike < _ALIKE or (best is not None and alike <= best[0]) or not _moves(theirs):
            continue
        apart = share_alike(own_good, theirs_good)
        # the two must part often enough on the good side for their likeness to mean something
        if apart is not None and apart < 0.97 and not follows_by_chance(own, theirs, len(others)):
            best = alike, name
    if best is None:
        return None
    apart = share_alike(own_good, others[best[1]].good_states[start:]) or 0.0
    because = [f"It equals {best[1]} in {best[0]:.1%} of the suspect's cycles, but in {apart:.1%} of the good ones."]
    winner = joined(found, others[best[1]])
    if winner is not None:
        made = "AND" if winner == "low" else "OR"
        because.append(
            f"Where the good levels of the two differ, both are {winner}, as a wired {made} makes it: they may be "
            "bridged."
        )
    return FaultMode(f"follows {best[1]}", FaultKind.FOLLOWS, tuple(because), (best[1],))


def _pulses(found: Divergence) -> FaultMode | None:
    missing, extra = len(found.matching.missing), len(found.matching.extra)
    moved = len(found.moved_by_ps)
    total = len(found.matching.good) + moved + missing
    rare = len(found.cycles) <= _RARE * max(1, len(found.good_states))
    if missing >= 2 and extra <= 0.05 * missing and moved <= 0.2 * missing and _mostly_there(found):
        return FaultMode(
            "missing pulses",
            FaultKind.MISSING_PULSES,
            (
                f"{group_digits(missing)} of {counted(total, 'good transition')} are missing; "
                f"{group_digits(extra) if extra else 'none'} {are(extra or 1)} added.",
            ),
        )
    if extra >= 2 and missing <= 0.05 * extra and moved <= 0.2 * extra and rare:
        return FaultMode(
            "extra pulses",
            FaultKind.EXTRA_PULSES,
            (
                f"{group_digits(extra)} transitions are not on the good side, which makes {group_digits(total)}"
                f"{f'; {group_digits(missing)} of these {are(missing)} missing' if missing else ''}.",
            ),
        )
    return None


def _mostly_there(found: Divergence) -> bool:
    return len(found.matching.good) >= len(found.matching.missing)


def _vague(signal: str, found: Divergence, others: Mapping[str, Divergence]) -> FaultMode:
    cycles, total = len(found.cycles), max(1, len(found.good_states))
    episodes = int((np.diff(found.cycles) > 8).sum()) + 1 if cycles else 0
    if cycles > _RARE * total or episodes < 3:
        return FaultMode(
            "wrong state",
            FaultKind.WRONG_STATE,
            (f"It diverges in {_of_judged(found)}, without a plainer pattern.",),
        )
    wrong = f"It is wrong in {_of_judged(found)}, in {group_digits(episodes)} separate places, and right in between."
    rest = {name: other for name, other in others.items() if name != signal}
    twins = comes_and_goes(found, rest)
    if twins:
        said = (
            f"In {group_digits(twins)} of them it was right at other times with the same levels on all other signals."
        )
        return FaultMode("intermittent", FaultKind.INTERMITTENT, (wrong, said))
    leader, why = followed_now_and_then(found, rest)
    if not leader:
        return FaultMode("intermittent", FaultKind.INTERMITTENT, (wrong,))
    kind = FaultKind.WRONG_NOW_AND_THEN
    return FaultMode(f"{kind}, may follow {leader}", kind, (wrong, why))


def _of_judged(found: Divergence) -> str:
    """The wrong cycles of those that are decided on both sides, as the tables count them."""
    return f"{group_digits(len(found.cycles))} of {counted(found.compared, 'cycle')} that could be judged"


def _known(states: UInt8) -> UInt8:
    return np.asarray(states[states != UNKNOWN])


def _moves(states: UInt8) -> bool:
    return bool((states == LOW).any() and (states == HIGH).any())

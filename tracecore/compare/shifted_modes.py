"""Names the fault of a signal whose transitions all come, but late or early."""

from __future__ import annotations

import numpy as np

from tracecore.capture import HIGH, UNKNOWN, Int64
from tracecore.compare.divergence import Divergence
from tracecore.compare.fault_kinds import FaultKind
from tracecore.compare.fault_mode import FaultMode, counted, share_alike, start_index, verb_for
from tracecore.quantities import format_time, group_digits

_STEADY_FEWEST, _STEADY_SHARE = 8, 0.95  # pairs of one direction, and how many of them read to one delay


def shifted(found: Divergence, cycle_ps: int) -> FaultMode | None:
    """Its transitions all come, but late or early."""
    moved = found.moved_by_ps
    near, lone = len(found.matching.good), len(found.matching.missing) + len(found.matching.extra)
    total = near + len(moved) + lone
    late_by_one = _one_cycle_late(found)
    if late_by_one is not None:
        return late_by_one
    if not len(moved) or len(moved) < 2 * lone:
        return None
    is_late = 2 * int((moved > 0).sum()) >= len(moved)
    # the few of the other sign are no part of this delay
    way = moved[moved > 0] if is_late else moved[moved < 0]
    middle = int(np.median(way))
    word = "late" if is_late else "early"
    least = found.skew.uncertainty_ps if found.skew else 0
    share = len(moved) / max(1, total)
    if share > 0.5 and abs(middle - cycle_ps) <= max(least, cycle_ps // 20):
        return FaultMode(
            "one cycle late",
            FaultKind.ONE_CYCLE_LATE,
            (f"{group_digits(len(moved))} of {counted(total, 'transition')} come one clock cycle late.",),
        )
    if share <= 0.5 and 2 * whole_cycles(found, cycle_ps) > len(moved):
        # what is wrong is a state, for as long as cycles are
        return None
    steady = _steadily_late(found, least)
    if steady is not None:
        return steady
    if min(int((moved > 0).sum()), int((moved < 0).sum())) > 0.25 * len(moved):
        return _jittering(moved, total, least)
    often = " now and then" if share <= 0.5 and len(way) > 1 else ""
    come, by = ("comes", "by") if len(way) == 1 else ("come", "in the middle by")
    because = [
        f"{group_digits(len(way))} of {counted(total, 'transition')} {come} {word}, {by} "
        f"{format_time(abs(middle), digits=3)}; one pair of transitions is accurate to "
        f"±{format_time(least, digits=2)}."
    ]
    if len(way) < len(moved):
        because.append(f"{counted(len(moved) - len(way), 'transition')} the other way: left out of that middle.")
    if share <= 0.5:
        because.append("The others are on time.")
    because += _modulo(found)
    return FaultMode(f"{word} by {format_time(abs(middle), digits=3)}{often}", FaultKind(word), tuple(because))


def whole_cycles(found: Divergence, cycle_ps: int) -> int:
    """How many transitions come early or late by a cycle, or by several, so that states differ: no delay makes that."""
    moved, least = np.abs(found.moved_by_ps), found.skew.uncertainty_ps if found.skew else 0
    if not cycle_ps or not len(moved):
        return 0
    cycles = np.maximum(1, np.rint(moved / cycle_ps))
    near = np.abs(moved - cycles * cycle_ps) <= max(least, cycle_ps // 20)
    return min(int(near.sum()), int(found.differing.sum()))


def _steadily_late(found: Divergence, least: int) -> FaultMode | None:
    """Its rises, its falls or both are late or early by one amount, which reads below the tolerance now and then."""
    ties = found.ties
    at = np.concatenate((ties.suspect_on_good_ps, ties.moved_suspect_on_good_ps))
    late = at - np.concatenate((ties.good_ps, ties.moved_good_ps))
    moved = np.arange(len(at)) >= len(ties.good_ps)
    rising = found.suspect_on_good.level_at(at) == HIGH
    parts = {}
    for word, own in (("rise", rising), ("fall", ~rising)):
        if own.sum() < _STEADY_FEWEST or not moved[own].any():
            continue
        middle = float(np.median(late[own]))
        near = np.abs(late - middle) <= least
        # what is beyond the tolerance must be of this delay: rare late ones are another fault
        rare = 2 * int(np.count_nonzero(near & own & moved)) < int(np.count_nonzero(own & moved))
        if not rare and float(near[own].mean()) >= _STEADY_SHARE and abs(middle) > least / 2:
            parts[word] = round(middle), int(own.sum())
    if not parts or len({by > 0 for by, _ in parts.values()}) > 1:
        return None
    if len(parts) == 1 and moved[rising != ("rise" in parts)].any():
        return None
    middle = max((by for by, _ in parts.values()), key=abs)
    word = "late" if middle > 0 else "early"
    said = " and ".join(
        f"its {counted(n, kind)} {verb_for(n, 'come')} {word} by {format_time(abs(by), digits=3)}"
        for kind, (by, n) in parts.items()
    )
    because = [
        f"{said[0].upper()}{said[1:]} in the middle; one pair of transitions is accurate to "
        f"±{format_time(least, digits=2)}."
    ]
    if len(parts) == 1:
        because.append(f"The {'falls' if 'rise' in parts else 'rises'} are on time.")
    because += _modulo(found)
    return FaultMode(f"{word} by {format_time(abs(middle), digits=3)}", FaultKind(word), tuple(because))


def _modulo(found: Divergence) -> list[str]:
    if not found.matching.modulo_ps:
        return []
    return [
        f"The signal repeats every {format_time(found.matching.modulo_ps, digits=3)}, so the delay is known only "
        "modulo that."
    ]


def _jittering(moved: Int64, total: int, least: int) -> FaultMode:
    """Transitions that come late as well as early have no one delay."""
    early, late = moved[moved < 0], moved[moved > 0]
    wide = int(np.median(late)) - int(np.median(early))
    return FaultMode(
        f"jitter of {format_time(wide, digits=3)}",
        FaultKind.JITTER,
        (
            f"Of {counted(total, 'transition')} {group_digits(len(late))} come late, in the middle by "
            f"{format_time(int(np.median(late)), digits=3)}, and {group_digits(len(early))} early, by "
            f"{format_time(-int(np.median(early)), digits=3)}; a pair of transitions reads to "
            f"±{format_time(least, digits=2)}.",
        ),
    )


def _one_cycle_late(found: Divergence) -> FaultMode | None:
    start = start_index(found)
    g, s = found.good_states[start:], found.suspect_states[start:]
    if len(g) < 16:
        return None
    changes = np.flatnonzero((g[1:] != g[:-1]) & (g[1:] != UNKNOWN) & (g[:-1] != UNKNOWN) & (s[1:] != UNKNOWN)) + 1
    if len(changes) < 8:
        return None
    delayed = float((s[changes] == g[changes - 1]).mean())
    overall = share_alike(s[1:], g[:-1])
    if delayed < 0.9 or overall is None or overall < 0.98:
        return None
    return FaultMode(
        "one cycle late",
        FaultKind.ONE_CYCLE_LATE,
        (f"In {delayed:.1%} of the changes it shows in a cycle what the good side showed in the cycle before.",),
    )

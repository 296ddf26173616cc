"""Signals that differ since registers and stores come up with random contents, and not since they are faulty.

Such a signal differs from the first matched cycle on while it stands still on both sides. Where it is loaded and right
from then on, or never loaded at all, that is all there is to it; else its first wrong instant is the first one behind
its first move. Where several signals came up otherwise, what is read from a store later differs for the same reason,
so that the first wrong instant says little: what only a fault makes counts more.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import UNKNOWN, UInt8
from tracecore.compare.divergence import Divergence
from tracecore.compare.fault_kinds import FaultKind as Kind
from tracecore.compare.findings import Cause
from tracecore.compare.joined_nets import follows_by_chance
from tracecore.measure.clock import known_transitions
from tracecore.name_lists import few_names
from tracecore.notices import Notice, notice

MANY = 2
"""Signals that came up otherwise from which on the first wrong instant says little."""
ALONE, NEVER, OWN = 1, 2, 3
HELD = (Kind.STUCK_LOW, Kind.STUCK_HIGH)
_BY_CONTENTS = {Kind.MISSING_PULSES, Kind.EXTRA_PULSES, Kind.INTERMITTENT, Kind.WRONG_NOW_AND_THEN, Kind.WRONG_STATE}
_BY_CONTENTS |= {*HELD, Kind.INVERTED}
_HOLDS = (
    8  # transitions of the good side through which what is loaded hardly stands still, or is the opposite, by chance
)
_MOST = 1 << 16  # matched cycles that are looked at
_STILL, _DIFFERS = 3, 0.9  # cycles that it stands still at first, and the share of these in which it differs
_OPPOSITE_MOVES = 3  # first moves through which an inverted net stays the opposite
_TIMES = 3  # episodes of its own without which nothing is said
_SWAPPED = 8  # places without which two that are wrong together are chance
_ALONE, _AHEAD = 6.0, 3.0  # episodes of its own, and times as many as any other has, that make a signal stand out


@dataclass(frozen=True, slots=True)
class PowerUp:
    """``wrong_at`` is for each signal that stood still and differed at first the good cycle in which it is wrong for
    the first time behind its first move, None where it never is. ``held`` never move on the suspect where the good side
    does. ``alone`` are those that go wrong by themselves, or with one and the same other, more often than not;
    ``standing_out`` is the one that does so by far the most often, empty where none does. ``paired`` are both of two
    nets that read alike throughout on the suspect, or stand for one another, as joined and as swapped ones do.
    ``settled`` are those of ``wrong_at`` that are right more often than not behind their first move, which is at the
    index ``loaded`` among the matched cycles."""

    wrong_at: Mapping[str, int | None]
    standing_out: str = ""
    alone: frozenset[str] = frozenset()
    held: frozenset[str] = frozenset()
    paired: frozenset[str] = frozenset()
    settled: frozenset[str] = frozenset()
    loaded: Mapping[str, int] = field(default_factory=dict)

    def telling(self, name: str, kind: Kind | None) -> int:
        """How much speaks against contents, from 0: ``ALONE`` for a signal that goes wrong by itself, which a bit of a
        store may do among few signals; ``NEVER`` for one that is held, which contents never do, and other faults may;
        ``OWN`` for one that comes a cycle late, which no other net's fault does either."""
        if self.many and kind == Kind.ONE_CYCLE_LATE:
            return OWN
        if name in self.held or (self.many and kind in HELD):
            return NEVER
        return ALONE if name in self.alone | self.paired else 0

    def explains(self, name: str, kind: Kind | None, held_moves: int) -> bool:
        """May contents make a fault of this ``kind``? Hardly that of two nets that read alike, nor of one that stands
        still while the good side moves it often (``held_moves``). The opposite of a level is soon made by another
        operand."""
        return self.many and kind in _BY_CONTENTS and name not in self.paired and held_moves < _HOLDS

    @property
    def many(self) -> bool:
        """Did so much come up otherwise that the first wrong instant says little?"""
        return bool(self.wrong_at)


def power_up(found: Mapping[str, Divergence], diverging: tuple[str, ...]) -> PowerUp:
    """What of ``diverging`` signals came up otherwise; empty where too few did to tell that from a fault. One tells
    where nothing else differs, and it is right through several moves once it is loaded. Of long captures the first
    ``_MOST`` matched cycles are looked at."""
    names = [name for name in diverging if name in found]
    wrong = {name: _wrong(found[name]) for name in names}
    loaded = {name: own for name in names if (own := _loaded_at(found[name], wrong[name])) is not None}
    loaded = {name: own for name, own in loaded.items() if not _is_opposite(found[name])}
    first = {name: own for name, own in loaded.items() if not _is_held(found[name], wrong[name], own)}
    alone = len(names) == len(first) == 1 and all(_is_right(found[n], wrong[n], at) for n, at in first.items())
    if len(first) < MANY and not alone:
        return PowerUp({})
    at: dict[str, int | None] = {}
    for name, begins in first.items():
        later = begins + np.flatnonzero(wrong[name][begins:])
        at[name] = int(found[name].good_cycles[later[0]]) if len(later) else None
    standing_out, by_themselves = _by_themselves(wrong)
    # what came up otherwise holds something, and may be loaded from what reaches no clip
    held = frozenset(loaded) - set(first)
    paired = _paired({name: found[name] for name in names}, first)
    settled = frozenset(n for n, begins in first.items() if not wrong[n][begins:].sum() > (len(wrong[n]) - begins) / 2)
    return PowerUp(at, standing_out, by_themselves - set(first), held, paired, settled, first)


def _wrong(found: Divergence) -> NDArray[np.bool_]:
    """bool[K]: the matched cycles in which it differs."""
    out = np.zeros(min(_MOST, len(found.good_states)), np.bool_)
    index = found.good_cycles.searchsorted(found.cycles)
    out[index[index < len(out)]] = True
    return out


def _loaded_at(found: Divergence, wrong: NDArray[np.bool_]) -> int | None:
    """The index of the matched cycle from which on its levels count: the one in which it moves first on either side,
    or the one behind it where it is right then. None where it does not stand still and differ before that, or where it
    is stuck as far as one can see."""
    count = len(wrong)
    if not count or not found.differing[0]:
        return None
    moves = [_moves(side[:count]) for side in (found.good_states, found.suspect_states)]
    first = np.flatnonzero(moves[0] | moves[1])
    at = int(first[0]) + 1 if len(first) else count
    if at < _STILL or float(found.differing[:at].mean()) < _DIFFERS:
        return None
    # one side alone moves when it is loaded with what the other has, which is no other divergence
    return at if at < count and found.differing[at] else at + 1


def _is_right(found: Divergence, wrong: NDArray[np.bool_], loaded: int) -> bool:
    """Is it right from its loading on, through several moves?"""
    moves = int(_moves(found.good_states[loaded : len(wrong)]).sum())
    return moves >= _STILL and not wrong[loaded:].any()


def _is_held(found: Divergence, wrong: NDArray[np.bool_], loaded: int) -> bool:
    """Does it stand still on the suspect alone, and is wrong where the good side has moved? Contents that came up
    otherwise would have been loaded there."""
    if found.first is None or loaded > len(wrong) or not wrong[loaded:].any():
        return False
    # in cycles without partner as well
    return bool(known_transitions(found.suspect_on_good).times_ps[-1] <= found.first.good_ps)


def _is_opposite(found: Divergence) -> bool:
    """Does it stay the opposite of the good side through its first moves? What is loaded would be right then. Later on
    what follows from it may bring other levels."""
    good, suspect = found.good_states[:_MOST], found.suspect_states[:_MOST]
    moves = [np.flatnonzero(_moves(side)) for side in (good, suspect)]
    if min(map(len, moves)) < _OPPOSITE_MOVES:
        return False
    until = 2 + max(int(at[_OPPOSITE_MOVES - 1]) for at in moves)
    known = np.maximum(good, suspect)[:until] < UNKNOWN
    return not (good[:until] == suspect[:until])[known].any()


def _moves(states: UInt8) -> NDArray[np.bool_]:
    """bool[K - 1]: is it known in the next cycle, and not what it was when it was last known?"""
    known = states < UNKNOWN
    last = np.maximum.accumulate(np.where(known, np.arange(len(states)), 0))[:-1]
    return np.asarray(known[1:] & known[last] & (states[1:] != states[last]))


def _by_themselves(wrong: Mapping[str, NDArray[np.bool_]]) -> tuple[str, frozenset[str]]:
    """The signal with by far the most episodes that begin with it alone, one shared by several counting in parts; and
    all whose episodes mostly begin with them alone."""
    begins = {name: own & ~np.append(False, own[:-1]) for name, own in wrong.items()}
    for own in begins.values():
        own[:1] = False
    count = np.sum([own | np.append(False, own[:-1]) for own in begins.values()], axis=0)
    shared = {name: count[own] for name, own in begins.items()}
    alone = frozenset(n for n, own in shared.items() if (own == 1).sum() >= max(_TIMES, len(own) / 2))
    alone |= _in_pairs(begins, count)
    parts = {name: float((1 / np.maximum(1, own)).sum()) for name, own in shared.items()}
    order = sorted(parts, key=lambda name: -parts[name])
    if not order or parts[order[0]] < _ALONE or (len(order) > 1 and parts[order[0]] <= _AHEAD * parts[order[1]]):
        return "", alone
    return order[0], alone


def _in_pairs(begins: Mapping[str, NDArray[np.bool_]], count: NDArray[np.int64]) -> frozenset[str]:
    """Both of each two signals whose episodes mostly begin with the two of them and no other, as of two joined nets."""
    twos = {name: np.flatnonzero(own & (count == 2)) for name, own in begins.items()}
    often = [n for n, at in twos.items() if len(at) >= max(_TIMES, begins[n].sum() / 2)]
    out: set[str] = set()
    for i, one in enumerate(often):
        for other in often[i + 1 :]:
            together = len(np.intersect1d(twos[one], twos[other]))
            if together >= max(_TIMES, begins[one].sum() / 2, begins[other].sum() / 2):
                out |= {one, other}
    return frozenset(out)


def _paired(found: Mapping[str, Divergence], loaded: Mapping[str, int]) -> frozenset[str]:
    """Both of each two signals that read alike on the suspect alone, or of which each reads what the other should."""
    names, out = list(found), set()
    differing = {name: own.differing[:_MOST] for name, own in found.items()}
    for i, one in enumerate(names):
        for other in names[i + 1 :]:
            begin = max(loaded.get(one, 0), loaded.get(other, 0))
            own, theirs = found[one], found[other]
            apart = own.good_states[:_MOST] ^ theirs.good_states[:_MOST] == 1
            wrong = differing[one][begin:] | differing[other][begin:]
            if np.count_nonzero(wrong & apart[begin:]) < _TIMES:
                continue
            alike = _read_alike(own, theirs, begin, len(found))
            if alike or (begin == 0 and _stand_for_one_another(differing[one], differing[other], apart)):
                out |= {one, other}
    return frozenset(out)


def _read_alike(own: Divergence, theirs: Divergence, begin: int, nets: int) -> bool:
    """Does the suspect show one level on both from a cycle on, beyond what chance makes, and the good side two?"""
    a, b = own.suspect_states[begin:_MOST], theirs.suspect_states[begin:_MOST]
    if (a ^ b == 1).any():
        return False
    good = own.good_states[begin:_MOST] ^ theirs.good_states[begin:_MOST] == 1
    starts = good & ~np.append(False, good[:-1])[: len(good)]
    return int(starts.sum()) >= _TIMES and not follows_by_chance(a, b, nets)


def _stand_for_one_another(one: NDArray[np.bool_], other: NDArray[np.bool_], apart: NDArray[np.bool_]) -> bool:
    """Are both always wrong together, and only where their good levels differ, in many separate places?"""
    if not np.array_equal(one, other) or (one & ~apart).any():
        return False
    return int((one[1:] & ~one[:-1]).sum()) >= _SWAPPED


def contents_notices(causes: Sequence[Cause]) -> tuple[Notice, ...]:
    """What is to be known of contents beside the ``causes``: that some of these came up otherwise."""
    names = tuple(cause.signal for cause in causes if cause.came_up)
    if not names:
        return ()
    differ = "differs from the start until it moves" if len(names) == 1 else "differ from the start until they move"
    text = f"Registers or memory may have come up otherwise: {few_names(names, 4)} {differ}."
    return (notice("contents_differ", text, signals=names),)

"""Signals that differ since registers and stores come up with random contents, and not since they are faulty.

Such a signal differs from the first matched cycle on while it stands still on both sides. Where it is loaded and right
from then on, or never loaded at all, that is all there is to it; else its first wrong instant is the first one behind
its first move. Where several signals came up otherwise, what is read from a store later differs for the same reason,
so that the first wrong instant says little: what only a fault makes counts more.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import UNKNOWN, UInt8
from tracecore.compare.divergence import Divergence

MANY = 2
"""Signals that came up otherwise from which on the first wrong instant says little."""
_MOST = 1 << 16  # matched cycles that are looked at
_STILL, _DIFFERS = 3, 0.9  # cycles that it stands still at first, and the share of these in which it differs
_TIMES = 3  # episodes of its own without which nothing is said
_ALONE, _AHEAD = 6.0, 3.0  # episodes of its own, and times as many as any other has, that make a signal stand out


@dataclass(frozen=True, slots=True)
class PowerUp:
    """``wrong_at`` is for each signal that stood still and differed at first the good cycle in which it is wrong for
    the first time behind its first move, None where it never is. ``alone`` are those that go wrong by themselves more
    often than with others, ``standing_out`` is the one that does so by far the most often, empty where none does."""

    wrong_at: Mapping[str, int | None]
    standing_out: str = ""
    alone: frozenset[str] = frozenset()

    @property
    def many(self) -> bool:
        """Did so many signals come up otherwise that the first wrong instant says little?"""
        return len(self.wrong_at) >= MANY


def power_up(found: Mapping[str, Divergence], diverging: tuple[str, ...]) -> PowerUp:
    """What of ``diverging`` signals came up otherwise; empty where too few did to tell that from a fault. Of long
    captures the first ``_MOST`` matched cycles are looked at."""
    names = [name for name in diverging if name in found]
    wrong = {name: _wrong(found[name]) for name in names}
    first = {name: loaded_at for name in names if (loaded_at := _loaded_at(found[name], wrong[name])) is not None}
    if len(first) < MANY:
        return PowerUp({})
    at = {}
    for name, loaded in first.items():
        later = loaded + np.flatnonzero(wrong[name][loaded:])
        at[name] = int(found[name].good_cycles[later[0]]) if len(later) else None
    return PowerUp(at, *_by_themselves(wrong))


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
    counts = at if at < count and found.differing[at] else at + 1
    stuck = at < count and not moves[1].any() and bool(wrong[counts:].any())
    return None if stuck else counts


def _moves(states: UInt8) -> NDArray[np.bool_]:
    """bool[K - 1]: does it change from one cycle to the next?"""
    return np.asarray((states[1:] != states[:-1]) & (states[1:] < UNKNOWN) & (states[:-1] < UNKNOWN))


def _by_themselves(wrong: Mapping[str, NDArray[np.bool_]]) -> tuple[str, frozenset[str]]:
    """The signal with by far the most episodes that begin with it alone, one shared by several counting in parts; and
    all whose episodes mostly begin with them alone."""
    begins = {name: own & ~np.append(False, own[:-1]) for name, own in wrong.items()}
    for own in begins.values():
        own[:1] = False
    count = np.sum([own | np.append(False, own[:-1]) for own in begins.values()], axis=0)
    shared = {name: count[own] for name, own in begins.items()}
    alone = frozenset(n for n, own in shared.items() if (own == 1).sum() >= max(_TIMES, len(own) / 2))
    parts = {name: float((1 / np.maximum(1, own)).sum()) for name, own in shared.items()}
    order = sorted(parts, key=lambda name: -parts[name])
    if not order or parts[order[0]] < _ALONE or (len(order) > 1 and parts[order[0]] <= _AHEAD * parts[order[1]]):
        return "", alone
    return order[0], alone

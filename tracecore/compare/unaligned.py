"""What can be said of two captures without any line-up: which signals move at all, and where they rest.

A board that is dead, or held in reset, has no cycles to line up, and yet shows clearly that it is not the good one. A
signal counts only where the good side never rests for as long as a third of the suspect's capture: then it would have
moved there wherever in the program that capture lies.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from tracecore.capture import HIGH, UNKNOWN, DigitalTrace
from tracecore.compare.fault_mode import counted
from tracecore.measure.clock import known_transitions
from tracecore.quantities import format_time

_FEWEST = 8  # transitions without which nothing is said of moving
_REST_SHARE = 1 / 3


@dataclass(frozen=True, slots=True)
class Motion:
    """How one signal moves in one capture: ``moves`` transitions, ``rests_ps`` the longest time between two of them or
    to an end of the capture, ``lasts_ps`` the capture itself, ``level`` the last known one, None where none is."""

    moves: int
    rests_ps: int
    lasts_ps: int
    level: int | None


@dataclass(frozen=True, slots=True)
class Unaligned:
    """One signal that differs for certain though no cycle is matched. ``kind`` is that of a fault mode."""

    signal: str
    kind: Literal["stuck low", "stuck high", "extra pulses"]
    because: tuple[str, ...]
    held: bool = False
    """It stands at the level that the good side never has: it may be what holds the others."""


def motion(trace: DigitalTrace) -> Motion:
    """How a signal moves. Unknown stretches are no movement.

    >>> motion(DigitalTrace(np.array([0, 10, 40]), np.array([0, 1, 0], np.uint8), 100)).rests_ps
    60
    """
    known = known_transitions(trace)
    ends = np.concatenate((known.times_ps[:1], known.transitions_ps, [trace.stop_ps]))
    seen = trace.levels[trace.levels != UNKNOWN]
    level = int(seen[-1]) if len(seen) else None
    return Motion(len(known.transitions_ps), int(np.diff(ends).max()), trace.stop_ps - trace.start_ps, level)


def compare_unaligned(
    good: Mapping[str, DigitalTrace], suspect: Mapping[str, DigitalTrace], left_out: tuple[str, ...] = ()
) -> dict[str, Unaligned]:
    """The signals that move on one side only, as clearly as that shows without a line-up; those ``left_out`` (the
    clock) are judged elsewhere. Where any are dead, signals that stand at different levels throughout come first: one
    of them may hold the board."""
    pairs = {s: (motion(good[s]), motion(suspect[s])) for s in good if s in suspect and s not in left_out}
    out: dict[str, Unaligned] = {}
    for signal, (own, other) in pairs.items():
        if other.level is None or own.level is None:
            continue
        word = "high" if other.level == HIGH else "low"
        if not other.moves and _would_have_moved(own, other):
            said = (
                f"It is {word} in the whole capture of {format_time(other.lasts_ps)}; on the good side it moves "
                f"{counted(own.moves, 'time')} and never rests for longer than {format_time(own.rests_ps)}."
            )
            out[signal] = Unaligned(signal, "stuck high" if other.level == HIGH else "stuck low", (said,))
        elif not own.moves and _would_have_moved(other, own):
            said = (
                f"It moves {counted(other.moves, 'time')}; on the good side it never moves in "
                f"{format_time(own.lasts_ps)}."
            )
            out[signal] = Unaligned(signal, "extra pulses", (said,))
    if not any(own.kind != "extra pulses" for own in out.values()):
        return out
    return {**_held(pairs), **out}


def _would_have_moved(moving: Motion, still: Motion) -> bool:
    """Is the still capture so long that the signal, moving as it does on the other side, must have moved in it?"""
    return moving.moves >= _FEWEST and moving.rests_ps <= _REST_SHARE * still.lasts_ps


def _held(pairs: Mapping[str, tuple[Motion, Motion]]) -> dict[str, Unaligned]:
    """Signals that never move on the suspect and stand at a level that the good side has for at most a tenth of its
    capture or not at all."""
    out = {}
    for signal, (own, other) in pairs.items():
        if other.moves or own.moves >= _FEWEST or own.level is None or other.level in (None, own.level):
            continue
        word, usual = ("high", "low") if other.level == HIGH else ("low", "high")
        moves = f"after {counted(own.moves, 'transition')}" if own.moves else "throughout"
        said = f"It is {word} in the whole capture; the good side is {usual} {moves}. It may be what holds the board."
        out[signal] = Unaligned(signal, "stuck high" if other.level == HIGH else "stuck low", (said,), held=True)
    return out

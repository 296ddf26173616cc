"""What a cycle tells: how many bits its states are worth, foreseen from their own past.

A machine in a loop, or one that idles, says over and over what it said before: that two captures agree there tells
next to nothing about which cycle is which. A word that comes for the first time tells much.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import UInt8
from tracecore.lineup.state_words import Bools, StateWords, Words, mask_of, signal_counts

Floats32 = NDArray[np.float32]
GROUP, CONTEXT = 8, 4
"""Signals to a group (one byte of a word), and how many words of it make one context."""
REPEATED = 0.02  # the share of its bits that a context keeps that its own side has shown before
CAP = 10.0  # bits of one cycle: signals of one bus move together, so what they tell does not add up
_UNDECIDED, _LOOKED_AT = 0.1, 1 << 12  # share of so many cycles from which on a signal is undecided in many
SELDOM = 3  # a signal that moves no more often than this marks an event: a reset, the first strobe


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """One side, cycle by signal: ``levels`` uint8[K, L], undecided ones held; ``known`` bool[K, L], None where all are
    decided; ``worth`` float32[K, L] in bits, and ``worth_of_all`` float32[K] their sum. ``words`` are the cycles'."""

    levels: UInt8
    known: Bools | None
    worth: Floats32
    worth_of_all: Floats32
    words: StateWords


@dataclass(frozen=True, slots=True, eq=False)
class Told:
    """Both sides of a pair, or a piece of it, and which signals are ``seldom`` bool[L], or move ``once`` on either
    side, bool[L]. ``events`` are the cycles at which a seldom signal moves, with the signal."""

    good: Cells
    suspect: Cells
    seldom: Bools
    once: Bools
    events: tuple[frozenset[tuple[int, int]], frozenset[tuple[int, int]]]
    onsets: tuple[int, int]
    """The cycles in which anything moves first on either side; 0 where nothing does."""


def told_by(good: StateWords, suspect: StateWords, signals: int) -> Told:
    """Weighs both sides, whose words hold that many signals.

    A signal that moves in a share r of the cycles (of the side where it moves more often) tells -log2 r where it moves
    and -log2(1 - r) where it holds: the length of an ideal code for it. Both sides may be exchanged.
    """
    levels = [_bits(side.levels, signals).astype(np.uint8) for side in (good, suspect)]
    moved = [np.concatenate((np.zeros((1, signals), np.bool_), a[1:] != a[:-1])) for a in levels]
    rate = np.maximum(*[(m.sum(0) + 0.5) / max(1, len(m)) for m in moved])
    seldom = np.asarray(rate * max(len(good), len(suspect)) < SELDOM + 1, np.bool_)
    rate = np.minimum(rate, 0.5)
    moves, holds = -np.log2(rate), -np.log2(1 - rate)
    worth = [np.where(m, moves, holds).astype(np.float32) for m in moved]
    for group in range(-(-signals // GROUP)):
        for bits, new in zip(worth, novelty(_contexts(good, group), _contexts(suspect, group)), strict=True):
            bits[:, group * GROUP : (group + 1) * GROUP] *= new[:, None]
    for bits, m in zip(worth, moved, strict=True):
        bits[~m.any(1)] = 0  # a machine that stands still tells nothing
        often = bits[:, ~seldom].sum(1)
        bits *= np.where(seldom, 1, np.minimum(1, CAP / np.maximum(often, 1e-9))[:, None]).astype(np.float32)
    known = [None if s.undecided is None else ~_bits(s.undecided, signals).astype(np.bool_) for s in (good, suspect)]
    events = [
        frozenset((int(t), int(i)) for i in np.flatnonzero(seldom) for t in np.flatnonzero(m[:, i])) for m in moved
    ]
    sums = [bits.sum(1) for bits in worth]
    sides = [Cells(*cells) for cells in zip(levels, known, worth, sums, (good, suspect), strict=True)]
    once = np.logical_and.reduce([m.sum(0) == 1 for m in moved])
    return Told(sides[0], sides[1], seldom, once, (events[0], events[1]), (onset(good), onset(suspect)))


def novelty(good: Words, suspect: Words) -> tuple[Floats32, Floats32]:
    """How new each context is, 0 to 1, on either side: 1 where it comes for the first time there and once at most on
    the other side, 1/n where the other side has it n times, ``REPEATED`` where its own side had it before.

    >>> [side.round(2).tolist() for side in novelty(np.array([5, 6, 5], np.uint64), np.array([6, 5], np.uint64))]
    [[1.0, 1.0, 0.02], [1.0, 0.5]]
    """
    keys, where = np.unique(np.concatenate((good, suspect)), return_inverse=True)
    sides = where[: len(good)], where[len(good) :]
    counts = [np.bincount(side, minlength=len(keys)) for side in sides]
    out = []
    for own, other in ((0, 1), (1, 0)):
        side = sides[own]
        first = np.zeros(len(keys), np.int64)
        first[side[::-1]] = np.arange(len(side))[::-1]
        new = first[side] == np.arange(len(side))
        out.append(np.where(new, 1 / np.maximum(1, counts[other][side]), REPEATED).astype(np.float32))
    return out[0], out[1]


def _bits(words: Words, signals: int) -> UInt8:
    octets = np.ascontiguousarray(words, "<u8").view(np.uint8).reshape(-1, 8)[:, : -(-signals // 8)]
    return np.unpackbits(octets, axis=1, bitorder="little")[:, :signals]


def _contexts(side: StateWords, group: int) -> Words:
    """The last words of a group of signals as one key, cycle by cycle: uint64[K]."""
    word = (side.levels >> np.uint64(GROUP * group)) & np.uint64(255)
    key = word.copy()
    for back in range(1, CONTEXT):
        key[back:] |= word[:-back] << np.uint64(GROUP * back)
        key[:back] |= word[:1] << np.uint64(GROUP * back)
    return key


def onset(words: StateWords) -> int:
    """The first cycle in which anything moves; 0 without one. A signal that is undecided in many cycles does not count:
    a gated clock, which moves while states are read, is decided now and then by chance.

    >>> onset(StateWords(np.array([7, 7, 5, 7], np.uint64), None))
    2
    """
    moves = words.levels[1:] ^ words.levels[:-1]
    if words.undecided is not None:
        first = words.undecided[:_LOOKED_AT]
        moves &= ~mask_of(signal_counts(first) > _UNDECIDED * len(first))
    moves = moves != 0
    return int(moves.argmax()) + 1 if moves.any() else 0

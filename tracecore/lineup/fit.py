"""How well the states of both sides agree at an offset, block by block: the facts that are told of it.

Blocks are judged by the best two thirds of the signals, so that a stuck or noisy signal does not speak.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.lineup.explained import FEWEST_CYCLES

Floats = NDArray[np.float64]
_BLOCKS, _BLOCK_CYCLES = 64, 1024
_TRUST = 0.003  # disagreement at which a block counts a quarter


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """One offset over its whole overlap. ``agreement`` is the share (0 to 1) of decided states of moving signals that
    agree, ``agree`` float[S] that of each signal, ``spread`` the share of signals that disagree even in the best
    quarter of the blocks. ``anchor`` is the good cycle from which on it fits best, ``at_best`` (0 to 1) how well."""

    offset: int
    overlap: int
    agreement: float
    agree: Floats
    spread: float
    anchor: int
    at_best: float


def fit_at(good: UInt8, suspect: UInt8, offset: int, live: NDArray[np.bool_]) -> Fit | None:
    """Judges one offset on blocks spread over the overlap; None where fewer than FEWEST_CYCLES overlap."""
    low, high = max(0, -offset), min(good.shape[1], suspect.shape[1] - offset)
    if high - low < FEWEST_CYCLES or not live.any():
        return None
    starts, length = _spread_blocks(high - low)
    at = low + (starts[:, None] + np.arange(length)).ravel()
    return _judge(good, suspect, at, at + offset, low + starts, offset, high - low, live)


def fit_of_runs(
    good: UInt8, suspect: UInt8, starts: Int64, lengths: Int64, live: NDArray[np.bool_], offset: int
) -> Fit:
    """Judges matched cycles in the same way: runs of ``lengths`` int64[R] from ``starts`` int64[R, 2] on, good and
    suspect. ``offset`` is only passed on."""
    before = np.cumsum(lengths) - lengths
    count = int(lengths.sum())
    blocks, length = _spread_blocks(count)
    at = (blocks[:, None] + np.arange(length)).ravel()
    run = before.searchsorted(at, "right") - 1
    cycles, partners = (starts[run] + (at - before[run])[:, None]).T
    return _judge(good, suspect, cycles, partners, cycles[::length], offset, count, live)


def _spread_blocks(count: int) -> tuple[Int64, int]:
    """Where blocks spread over ``count`` cycles begin, and how long they are."""
    blocks = int(min(_BLOCKS, max(1, count // 32)))
    length = int(min(_BLOCK_CYCLES, count // blocks))
    return np.linspace(0, count - length, blocks).astype(np.int64), length


def _judge(
    good: UInt8,
    suspect: UInt8,
    at: Int64,
    partners: Int64,
    starts: Int64,
    offset: int,
    overlap: int,
    live: NDArray[np.bool_],
) -> Fit:
    a, b = good[:, at], suspect[:, partners]
    blocks, length = len(starts), len(at) // len(starts)
    shape = (len(good), blocks, length)
    certain = max(int(a.max()), int(b.max())) < UNKNOWN
    known = np.ones(1, np.bool_) if certain else (a != UNKNOWN) & (b != UNKNOWN)
    decided = np.full(shape[:2], length) if certain else known.reshape(shape).sum(2)
    differ = ((a != b) & known).reshape(shape).sum(2)
    rate = differ / np.maximum(decided, 1)
    # a signal that stands still agrees with anything: it is judged only with what chance would give
    chance = _chance(a, b, known, decided, shape)
    all_known = np.maximum(decided.sum(1), 1)
    agree = 1 - differ.sum(1) / all_known
    rows = np.flatnonzero(live)
    best = max(1, int(np.ceil(len(rows) * 2 / 3)))
    by_rate = np.sort(rate[rows], axis=0)
    trimmed = by_rate[:best].mean(0)
    weight = np.clip(np.sort(chance[rows], axis=0)[::-1][:best].mean(0) / 0.05, 0, 1)
    robust_blocks = weight / (1 + trimmed / _TRUST) ** 2
    full_blocks = 1 / (1 + rate[rows].mean(0) / _TRUST) ** 2
    # the best quarter of the blocks, by all signals: a fault that starts later does not speak there
    fine = full_blocks >= np.quantile(full_blocks, 0.75)
    spread = float((rate[rows][:, fine].mean(1) > 0.001).mean())
    agreement = 1 - float(differ[rows].sum() / max(1, decided[rows].sum()))
    return Fit(
        offset,
        overlap,
        agreement,
        agree,
        spread,
        int(starts[robust_blocks.argmax()]),
        float(robust_blocks.max()),
    )


def _chance(a: UInt8, b: UInt8, known: NDArray[np.bool_], decided: Int64, shape: tuple[int, int, int]) -> Floats:
    """Disagreement that unrelated signals of the same density would show, signal by block."""
    count = np.maximum(decided, 1)
    p = ((a == 1) & known).reshape(shape).sum(2) / count
    q = ((b == 1) & known).reshape(shape).sum(2) / count
    return np.asarray(p * (1 - q) + q * (1 - p), np.float64)

"""A line-up that does not believe the names: any lead of the suspect may be any signal of the good side, inverted too.

It is tried only where the names do not fit, since it costs a correlation of each with each.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import UNKNOWN, UInt8

Table = NDArray[np.float32]
_FEWEST_OVERLAP = 100
_TRIED = 24


def offset_of_any_leads(good: UInt8, suspect: UInt8) -> int | None:
    """Suspect cycle minus good cycle at which most leads fit some signal.

    ``good`` uint8[S, N] and ``suspect`` uint8[T, M] are states; None where nothing moves or too little overlaps.
    """
    rows = [_centred(row) for row in good], [_centred(row) for row in suspect]
    ours, theirs = ([r for r in side if r.any()] for side in rows)
    if not ours or not theirs or min(good.shape[1], suspect.shape[1]) < _FEWEST_OVERLAP:
        return None
    offsets = _candidates(ours, theirs)
    tables = np.array(ours), np.array(theirs)
    return max(offsets, key=lambda at: _fit(*tables, at), default=None)


def most_cycles(leads: int) -> int:
    """How many cycles to correlate, so that it takes about a second at most."""
    return 1 << 16 if leads <= 16 else 1 << 15 if leads <= 32 else 1 << 13


def _centred(row: UInt8) -> NDArray[np.float32]:
    known = row != UNKNOWN
    value = np.where(known, row, 0).astype(np.float32)
    if not known.any():
        return value
    return np.where(known, value - value[known].mean(), 0).astype(np.float32)


def _candidates(good: list[NDArray[np.float32]], suspect: list[NDArray[np.float32]]) -> list[int]:
    """At each offset the best signal for each lead, summed over the leads: the offsets where that is most."""
    from scipy import fft

    n, m = len(good[0]), len(suspect[0])
    size = fft.next_fast_len(n + m, real=True)
    spectra = [np.conj(fft.rfft(row / np.linalg.norm(row), size)) for row in good]
    total = np.zeros(size, np.float32)
    for row in suspect:
        own = fft.rfft(row / np.linalg.norm(row), size)
        best = np.zeros(size, np.float32)
        for spectrum in spectra:
            np.maximum(best, np.abs(fft.irfft(spectrum * own, size)), out=best)
        total += best
    lag = np.arange(size)
    lag[lag >= m] -= size
    overlap = np.minimum(n, m - lag) - np.maximum(0, -lag)
    score = np.where(overlap >= _FEWEST_OVERLAP, total / np.sqrt(np.maximum(overlap, 1)), 0)
    top = np.argpartition(-score, min(_TRIED, size - 1))[:_TRIED]
    return [int(lag[i]) for i in top[np.argsort(-score[top], kind="stable")] if score[i] > 0]


def _fit(good: Table, suspect: Table, at: int) -> float:
    """How well each lead fits its best signal at an offset, weighed by how much overlaps."""
    low, high = max(0, -at), min(good.shape[1], suspect.shape[1] - at)
    ours, theirs = _unit(good[:, low:high]), _unit(suspect[:, low + at : high + at])
    # so small a product costs less here than the library's threads cost to wait for on a busy machine
    alike = np.abs(np.einsum("ik,jk->ij", theirs, ours)).max(1)
    return float((alike**8).mean() * np.sqrt(high - low))


def _unit(rows: Table) -> Table:
    """Each row without its mean, of length 1; one that stands still becomes zeros."""
    moved = rows - rows.mean(1, keepdims=True)
    size = np.sqrt(np.einsum("ij,ij->i", moved, moved))[:, None]
    return np.asarray(np.divide(moved, size, out=np.zeros_like(moved), where=size > 0), np.float32)

"""Which cycle of the suspect is which cycle of the good one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import Int64, UInt8
from tracecore.compare.offset import (
    FEWEST_CYCLES,
    Verified,
    candidate_offsets,
    live_signals,
    self_shifts,
    verify,
)

Status = Literal["unique", "weak", "ambiguous", "partial", "differs", "by hand", "none"]
Edge = Literal["rising", "falling"]


@dataclass(frozen=True, slots=True)
class MatchedRun:
    """``length`` cycles that pair one to one from good cycle ``good_start`` and suspect cycle ``suspect_start`` on."""

    good_start: int
    suspect_start: int
    length: int


@dataclass(frozen=True, slots=True)
class Candidate:
    """One offset that was tried: suspect cycle = good cycle + ``offset_cycles``.

    ``agreement`` is the share (0 to 1) of compared states that agree; ``overlap_cycles`` how many cycles
    both captures have there; ``disagreeing`` how many signals differ on more than 1 % of them.
    """

    offset_cycles: int
    agreement: float
    overlap_cycles: int
    disagreeing: int


@dataclass(frozen=True, slots=True, eq=False)
class Lineup:
    """The pairing of cycles. Falsy where none was found; ``reason`` then says why.

    ``good_edges_ps`` and ``suspect_edges_ps`` are the active edges of each side, int64, in its own time.
    ``runs`` are in order and do not overlap (one run today; slips make more). ``confidence`` is 0 to 1.
    """

    clock: str
    edge: Edge
    status: Status
    reason: str
    offset_cycles: int
    confidence: float
    runs: tuple[MatchedRun, ...]
    candidates: tuple[Candidate, ...]
    good_edges_ps: Int64
    suspect_edges_ps: Int64
    drift_ppm: float | None

    def __bool__(self) -> bool:
        return bool(self.runs)


def find_lineup(
    clock: str,
    edge: Edge,
    good_edges_ps: Int64,
    suspect_edges_ps: Int64,
    good_states: UInt8,
    suspect_states: UInt8,
    names: tuple[str, ...],
    offset: int | None = None,
) -> Lineup:
    """Pairs the cycles of both sides.

    ``good_states`` uint8[S, N] and ``suspect_states`` uint8[S, M] are the states of the signals ``names`` in each
    cycle. ``offset`` sets the pairing by hand: suspect cycle = good cycle + offset.
    """

    def made(status: Status, reason: str, at: int, confidence: float, tried: list[Verified]) -> Lineup:
        low, high = max(0, -at), min(good_states.shape[1], suspect_states.shape[1] - at)
        runs = (MatchedRun(low, low + at, high - low),) if status != "none" and high > low else ()
        candidates = tuple(
            Candidate(v.offset, v.agreement, v.overlap, int((v.agree[live] < 0.99).sum())) for v in tried[:12]
        )
        return Lineup(
            clock,
            edge,
            status if runs else "none",
            reason,
            at,
            confidence,
            runs,
            candidates,
            good_edges_ps,
            suspect_edges_ps,
            _drift_ppm(good_edges_ps, suspect_edges_ps, runs),
        )

    live = live_signals(good_states, suspect_states)
    cycles = min(good_states.shape[1], suspect_states.shape[1])
    if cycles < FEWEST_CYCLES:
        return made(
            "none",
            f"{clock} makes only {max(cycles, 0)} whole cycles on one side; at least "
            f"{FEWEST_CYCLES} are needed. Capture longer, or choose another clock.",
            0,
            0.0,
            [],
        )
    if offset is not None:
        tried = [v for v in (verify(good_states, suspect_states, offset, live),) if v]
        return made("by hand", f"Offset {offset:+d} was set by hand.", offset, 1.0 if tried else 0.0, tried)
    if not live.any():
        return made(
            "none",
            "No signal that both sides have moves on both, so nothing tells the cycles apart. "
            "Set the offset by hand, or capture a signal that moves.",
            0,
            0.0,
            [],
        )
    tried = _judged(good_states, suspect_states, live)
    if not tried or tried[0].robust * tried[0].overlap < max(min(FEWEST_CYCLES, 0.2 * cycles), 0.002 * cycles):
        return made(
            "none",
            "No offset makes the two sides agree: they may run different programs, the captures "
            "may not overlap, or the clock may be wrong. Set the offset by hand if it is known.",
            0,
            0.0,
            tried,
        )
    status, best, tried, reason = _status(tried, cycles, live, names)
    rival = next((v for v in tried if v is not best), None)
    confidence = 1.0 if rival is None else 1.0 - min(1.0, _rivalry(rival, best))
    if status == "weak":
        confidence = min(confidence, 0.6)
    return made(status, reason, best.offset, round(confidence * min(1.0, 0.5 + best.robust / 2), 4), tried)


def _rivalry(rival: Verified, best: Verified) -> float:
    """How near a rival comes, 0 to 1: by the robust measure where that tells them apart, else by all signals."""
    robust = rival.robust / max(best.robust, 1e-9)
    full = rival.full / max(best.full, 1e-9)
    return min(robust, full) if robust > 0.9 else robust


def _judged(good: UInt8, suspect: UInt8, live: NDArray[np.bool_]) -> list[Verified]:
    """All candidates, best first, the winner challenged by the shifts at which the good side resembles itself."""
    judged: dict[int, Verified] = {}

    def judge(offsets: list[int]) -> None:
        for at in offsets:
            if at not in judged and (v := verify(good, suspect, at, live)) is not None:
                judged[at] = v

    judge(candidate_offsets(good, suspect, live))
    # where captures are equal at several offsets, the longest overlap, then the smallest move, comes first
    order = lambda v: (-v.evidence, abs(v.offset))  # noqa: E731
    best = min(judged.values(), key=order, default=None)
    if best is not None and best.robust > 0:
        judge([best.offset + s * shift for shift in self_shifts(good, live) for s in (1, -1)])
    return sorted(judged.values(), key=order)


def _status(
    tried: list[Verified], cycles: int, live: NDArray[np.bool_], names: tuple[str, ...]
) -> tuple[Status, Verified, list[Verified], str]:
    best = tried[0]
    # a short chance overlap is no rival of a long one
    ties = [
        v for v in tried if v.robust > 0.9 * best.robust and v.robust * v.overlap > 0.3 * best.robust * best.overlap
    ]
    ties.sort(key=lambda v: (-v.full, -v.overlap))
    if len(ties) > 1:
        rival = ties[1]
        # a faulty signal looks sounder where the overlap ends before its fault: only one that agrees fully may tell
        tell = [
            n
            for n, a, b, ok in zip(names, ties[0].agree, rival.agree, live, strict=True)
            if ok and a > 0.998 and a - b > 0.01
        ]
        if tell and ties[0].full > 1.05 * rival.full + 1e-3:
            best = ties[0]
            reason = f"Only {', '.join(tell)} tell offset {best.offset:+d} from {rival.offset:+d}."
            return "weak", best, _first(best, tried), reason
        near = [v for v in ties if not tell or v.full > ties[0].full / 1.05 - 1e-3]
        near.sort(key=lambda v: (-v.overlap, abs(v.offset)))
        best = near[0]
        step = min(abs(v.offset - best.offset) for v in near[1:])
        reason = (
            f"The sequence repeats: offsets {step} cycles apart fit equally well. The one with the longest "
            "overlap is taken; no captured signal tells them apart."
        )
        return "ambiguous", best, _first(best, tried), reason
    disagreeing = int((best.agree[live] < 0.999).sum())
    if best.spread > 0.25 and disagreeing > 2:
        reason = (
            f"{disagreeing} of {int(live.sum())} signals disagree even in the best stretch: perhaps "
            "another program or another phase."
        )
        return "differs", best, tried, reason
    if best.overlap < 0.25 * cycles:
        return "partial", best, tried, f"The captures share only {best.overlap} cycles at the offset that fits."
    return "unique", best, tried, "No other offset comes near."


def _first(best: Verified, tried: list[Verified]) -> list[Verified]:
    return [best, *(v for v in tried if v is not best)]


def _drift_ppm(good_edges_ps: Int64, suspect_edges_ps: Int64, runs: tuple[MatchedRun, ...]) -> float | None:
    """How much longer the suspect's cycle is, in millionths, end to end over the longest run."""
    if not runs:
        return None
    run = max(runs, key=lambda r: r.length)
    good = int(good_edges_ps[run.good_start + run.length] - good_edges_ps[run.good_start])
    suspect = int(suspect_edges_ps[run.suspect_start + run.length] - suspect_edges_ps[run.suspect_start])
    return round((suspect / good - 1) * 1e6, 1) if good else None


class TimeMap:
    """Carries times of the suspect to the good time axis: time since the last matched active edge, kept as it is.

    Delays are never scaled with the clock's ratio: a gate is as slow on a slow clock. A time that would pass
    the next good edge is held just before it, so that order is kept across the edge.
    """

    def __init__(self, lineup: Lineup) -> None:
        good, suspect = [], []
        for run in lineup.runs:
            good.append(lineup.good_edges_ps[run.good_start : run.good_start + run.length + 1])
            suspect.append(lineup.suspect_edges_ps[run.suspect_start : run.suspect_start + run.length + 1])
        self._good: Int64 = np.concatenate(good) if good else np.empty(0, np.int64)
        self._suspect: Int64 = np.concatenate(suspect) if suspect else np.empty(0, np.int64)

    def to_good_ps(self, suspect_ps: Int64) -> Int64:
        """int64[N] suspect times, sorted, to int64[N] good times, never decreasing."""
        return _carried(np.asarray(suspect_ps, np.int64), self._suspect, self._good)

    def to_suspect_ps(self, good_ps: Int64) -> Int64:
        """int64[N] good times, sorted, to int64[N] suspect times, never decreasing."""
        return _carried(np.asarray(good_ps, np.int64), self._good, self._suspect)


def _carried(times: Int64, own: Int64, other: Int64) -> Int64:
    if not len(own):
        return times
    index = np.clip(own.searchsorted(times, side="right") - 1, 0, len(own) - 1)
    carried = other[index] + (times - own[index])
    following = np.minimum(index + 1, len(own) - 1)
    inside = (following > index) & (times >= own[0])
    return np.asarray(np.where(inside, np.minimum(carried, other[following] - 1), carried))

"""Which of the offsets that were tried is taken, and how sure that is: whether another fits about as well."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import Int64, UInt8
from tracecore.lineup.offset import Verified

Status = Literal["unique", "weak", "ambiguous", "partial", "differs", "local", "by hand", "none"]
RIVAL_SHARE = 0.9
"""A rival that reaches this share of the best offset's block-wise agreement makes it doubtful."""


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """The states of both sides by signal and cycle, and which signals move on both. ``good_numbers`` int64[N] are the
    cycles' own numbers on the good side where others are left out."""

    good: UInt8
    suspect: UInt8
    live: NDArray[np.bool_]
    names: tuple[str, ...]
    good_numbers: Int64 | None = None

    def good_number(self, cycle: int) -> int:
        """A good cycle's own number."""
        return cycle if self.good_numbers is None else int(self.good_numbers[cycle])

    @property
    def counts(self) -> tuple[int, int]:
        """How many cycles the good and the suspect side have."""
        return self.good.shape[1], self.suspect.shape[1]

    @property
    def cycles(self) -> int:
        """How many cycles the shorter side has."""
        return min(self.counts)


def ties_with(rival: Verified, best: Verified) -> bool:
    """Does a rival fit about as well? A short chance overlap is no rival of a long one."""
    near = rival.robust > RIVAL_SHARE * best.robust
    return near and rival.robust * rival.overlap > 0.3 * best.robust * best.overlap


def rivalry(rival: Verified, best: Verified) -> float:
    """How near a rival comes, 0 to 1: by the robust measure where that tells them apart, else by all signals."""
    robust = rival.robust / max(best.robust, 1e-9)
    full = rival.full / max(best.full, 1e-9)
    return min(robust, full) if robust > RIVAL_SHARE else robust


def status_of(tried: list[Verified], sides: Sides) -> tuple[Status, Verified, list[Verified], str]:
    """Of offsets in order of evidence: how sure the answer is, the one that is taken, all with it first, and why."""
    best = tried[0]
    ties = [v for v in tried if ties_with(v, best)]
    ties.sort(key=lambda v: (-v.full, -v.overlap))
    if len(ties) > 1:
        return _among_ties(ties, tried, sides)
    disagreeing = int((best.agree[sides.live] < 0.999).sum())
    if best.spread > 0.25 and disagreeing > 2:
        reason = (
            f"{disagreeing} of {int(sides.live.sum())} signals disagree even in the best stretch: perhaps "
            "another program or another phase."
        )
        return "differs", best, tried, reason
    if best.overlap < 0.25 * sides.cycles:
        return "partial", best, tried, f"The captures share only {best.overlap} cycles at the offset that fits."
    return "unique", best, tried, "No other offset comes near."


def _among_ties(
    ties: list[Verified], tried: list[Verified], sides: Sides
) -> tuple[Status, Verified, list[Verified], str]:
    """Several offsets fit: a few signals tell them apart, or none does."""
    rival = ties[1]
    # a faulty signal looks sounder where the overlap ends before its fault: only one that agrees fully may tell
    tell = [
        n
        for n, a, b, ok in zip(sides.names, ties[0].agree, rival.agree, sides.live, strict=True)
        if ok and a > 0.998 and a - b > 0.01
    ]
    if tell and ties[0].full > 1.05 * rival.full + 1e-3:
        best = ties[0]
        reason = f"Only {', '.join(tell)} tell offset {best.offset:+d} from {rival.offset:+d}."
        return "weak", best, put_first(best, tried), reason
    near = [v for v in ties if not tell or v.full > ties[0].full / 1.05 - 1e-3]
    near.sort(key=lambda v: (-v.overlap, abs(v.offset)))
    best = near[0]
    step = min(abs(v.offset - best.offset) for v in near[1:])
    reason = (
        f"The sequence repeats: offsets {step} cycles apart fit equally well, so it is known only modulo {step}. "
        "The one with the longest overlap is taken; no captured signal tells them apart."
    )
    return "ambiguous", best, put_first(best, tried), reason


def put_first(best: Verified, tried: list[Verified]) -> list[Verified]:
    """The same offsets with one of them in front."""
    return [best, *(v for v in tried if v is not best)]


def refuted_words(rival: Verified, best: Verified, sides: Sides) -> str:
    """Why a rival that fits about as well is none."""
    return (
        f"Offset {rival.offset:+d} agrees on {rival.agreement:.1%} of states, but on most signals at once it differs "
        f"around good cycle {sides.good_number(int(rival.apart[0, 0]))}, where {best.offset:+d} agrees."
    )

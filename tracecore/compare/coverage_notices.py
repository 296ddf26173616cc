"""What was not compared, with its size: a suspect whose clock stops agrees up to there and no further."""

from __future__ import annotations

from collections.abc import Iterator

from tracecore.lineup.coverage import SideCoverage
from tracecore.lineup.lineup import Lineup
from tracecore.notices import Notice, notice
from tracecore.quantities import group_digits

EDGELESS_CYCLES = 20
"""A clock that is still for longer at an end of its capture is told; common practice has no gap that long in a sound
machine that is not halted."""
ENOUGH = 0.5
"""The share of the shorter capture that must be compared."""


def coverage_notices(lineup: Lineup, *, chosen: bool) -> Iterator[Notice]:
    """``chosen``: a person chose the stretch that is compared, by an offset."""
    if not lineup:
        return
    good, suspect = lineup.coverage
    yield from _stops(lineup, good, suspect)
    for side, word in ((good, "known-good"), (suspect, "suspect")):
        if side.edgeless_cycles[0] > EDGELESS_CYCLES:
            size = _size(side, side.head.edgeless_ps)
            text = f"The {word} clock starts after {size}; nothing is compared before that."
            yield notice("clock_starts_late", text, signals=(lineup.clock,))
    ends = [
        f"{word}, {group_digits(side.before)} cycles before and {group_digits(side.after)} after"
        for side, word in ((good, "known-good"), (suspect, "suspect"))
        if side.before or side.after
    ]
    if ends:
        yield notice(
            "ends_not_compared", f"Not compared, since the other side does not reach there: {'; '.join(ends)}."
        )
    share = compared_share(lineup)
    if share < ENOUGH and not chosen:
        shorter = min(_countable(good), _countable(suspect))
        text = f"Only {group_digits(lineup.matched_cycles)} of {group_digits(shorter)} cycles were compared."
        yield notice("too_little_compared", text)


def compared_share(lineup: Lineup) -> float:
    """Which share of the shorter capture's cycles was compared, those that a condition leaves out not counted."""
    good, suspect = lineup.coverage
    return lineup.matched_cycles / max(1, min(_countable(good), _countable(suspect)))


def _countable(side: SideCoverage) -> int:
    return side.total - side.left_out


def _stops(lineup: Lineup, good: SideCoverage, suspect: SideCoverage) -> Iterator[Notice]:
    """A clock that is still up to the end of the capture."""
    stops = [side.edgeless_cycles[1] > EDGELESS_CYCLES for side in (good, suspect)]
    last = [group_digits(side.total) for side in (good, suspect)]
    if all(stops):
        text = (
            f"Both clocks stop, at known-good cycle {last[0]} and suspect cycle {last[1]}; nothing is compared after."
        )
        yield notice("both_clocks_stop", text, signals=(lineup.clock,))
    elif stops[1]:
        rest = _size(suspect, suspect.tail.edgeless_ps)
        text = f"The suspect's clock stops at its cycle {last[1]}; {rest} after it are not compared."
        yield notice("clock_stops", text, signals=(lineup.clock,))
    elif stops[0]:
        rest = _size(good, good.tail.edgeless_ps)
        text = f"The known-good clock stops at cycle {last[0]}; {rest} after it are not compared."
        yield notice("good_clock_stops", text, signals=(lineup.clock,))


def _size(side: SideCoverage, length_ps: int) -> str:
    return f"{group_digits(side.samples(length_ps))} samples" if side.period_ps else f"{length_ps} ps"

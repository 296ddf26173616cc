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
"""The share of either capture that must be compared. Of 79 faults of ``tests/machine`` (seeds 50000 to 50110) that show
somewhere in the captures, 5 in 100 show only behind the first half, 18 behind the first third, 42 behind the tenth."""


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
    if compared_share(lineup) < ENOUGH and not chosen:
        side, word = (good, "known-good") if _countable(good) >= _countable(suspect) else (suspect, "suspect")
        text = (
            f"Only {group_digits(lineup.matched_cycles)} of {group_digits(_countable(side))} cycles of the {word} "
            "capture were compared."
        )
        yield notice("too_little_compared", text)


def compared_share(lineup: Lineup) -> float:
    """Which share of the longer capture's cycles was compared, those that a condition leaves out not counted: what the
    shorter one does not reach may hold the fault."""
    good, suspect = lineup.coverage
    return lineup.matched_cycles / max(1, _countable(good), _countable(suspect))


def not_compared_words(lineup: Lineup) -> str:
    """How many cycles of either capture were not compared, those that a condition leaves out not counted; empty where
    that is less than one in a hundred."""
    rest = [_countable(side) - side.matched for side in lineup.coverage]
    if all(100 * n <= side.total for n, side in zip(rest, lineup.coverage, strict=True)):
        return ""
    return f"{group_digits(rest[0])} good and {group_digits(rest[1])} suspect cycles were not compared"


def _countable(side: SideCoverage) -> int:
    return side.total - side.left_out


def _stops(lineup: Lineup, good: SideCoverage, suspect: SideCoverage) -> Iterator[Notice]:
    """A clock that is still up to the end of the capture."""
    stops = [side.edgeless_cycles[1] > EDGELESS_CYCLES for side in (good, suspect)]
    # the number that the clock's own finding shows, in the known-good side's count
    last = lineup.runs[-1]
    after = f"nothing is compared after cycle {group_digits(last.good_start + last.length - 1)}"
    if all(stops):
        text = f"Both clocks stop; {after}."
        yield notice("both_clocks_stop", text, signals=(lineup.clock,))
    elif stops[1]:
        rest = _size(suspect, suspect.tail.edgeless_ps)
        text = f"The suspect's clock stops; {after}, {rest} in all."
        yield notice("clock_stops", text, signals=(lineup.clock,))
    elif stops[0]:
        rest = _size(good, good.tail.edgeless_ps)
        text = f"The known-good clock stops; {after}, {rest} in all."
        yield notice("good_clock_stops", text, signals=(lineup.clock,))


def _size(side: SideCoverage, length_ps: int) -> str:
    return f"{group_digits(side.samples(length_ps))} samples" if side.period_ps else f"{length_ps} ps"

"""How far one signal is late or early throughout against a single known-good capture.

One pair of transitions reads to both sample periods together, but the mean of many reads far finer where the sampling
drifts against the clock. So a delay that stays within the tolerance is told all the same.
"""

from __future__ import annotations

from math import ceil, sqrt
from typing import Literal

from tracecore.capture import HIGH, Int64
from tracecore.compare.divergence import BOARD_ALLOWANCE_PS, Divergence, Limits
from tracecore.compare.envelope import Shift, trimmed_mean

PART_SPREAD_PS = 20_000
"""What a single sound board may differ by throughout: a 74LS74A takes 25 ns typically and 40 ns at most to a low, a
74LS00 behind it 10 and 15 (data sheets, from memory). Several known-good boards tell it more finely."""
_FEWEST_EDGES = 30
_LOOKED_AT = 20_000
"""The mean of so many pairs reads to a hundredth of a sample period; more would only take time."""


def pair_shifts(found: Divergence, limits: Limits) -> tuple[Shift, ...]:
    """The mean shift of rises and of falls over the pairs within tolerance; a direction with few pairs is left out.

    A shift is systematic beyond what two sound parts may differ by, what sampling that keeps step with a clock
    may feign, and six standard errors. Parts are slower both ways; a line that rises late and falls in time, as a weak
    pull-up or a load makes it, needs half as much.
    """
    good, suspect = found.ties.good_ps, found.ties.suspect_on_good_ps
    step = max(1, len(good) // _LOOKED_AT)
    good, suspect = good[::step], suspect[::step]
    rises = found.suspect_on_good.level_at(suspect) == HIGH
    off = suspect - good
    kinds: tuple[tuple[Literal["rise", "fall"], Int64], ...] = (("rise", off[rises]), ("fall", off[~rises]))
    shifts = [_shift(direction, own, PART_SPREAD_PS, limits) for direction, own in kinds if len(own) >= _FEWEST_EDGES]
    if len(shifts) == 2 and abs(shifts[0].by_ps - shifts[1].by_ps) > BOARD_ALLOWANCE_PS:
        return tuple(_shift(direction, own, BOARD_ALLOWANCE_PS, limits) for direction, own in kinds)
    return tuple(shifts)


def _shift(direction: Literal["rise", "fall"], off: Int64, spread_ps: int, limits: Limits) -> Shift:
    error = float(off.std()) / sqrt(len(off))
    limit = max(spread_ps + limits.feigned_ps, ceil(6 * error))
    return Shift(direction, round(trimmed_mean(off)), limit, len(off))

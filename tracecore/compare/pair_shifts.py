"""How far one signal is late or early throughout against a single known-good capture.

One pair of transitions reads to both sample periods together, but the mean of many reads far finer where the sampling
drifts against the clock. So a delay that stays within the tolerance is told all the same.
"""

from __future__ import annotations

from math import ceil, sqrt
from typing import Literal

import numpy as np

from tracecore.capture import HIGH
from tracecore.compare.divergence import Divergence, Limits
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
    may feign, and six standard errors.
    """
    good, suspect = found.ties.good_ps, found.ties.suspect_on_good_ps
    step = max(1, len(good) // _LOOKED_AT)
    good, suspect = good[::step], suspect[::step]
    rises = found.suspect_on_good.level_at(suspect) == HIGH
    off = suspect - good
    kinds: tuple[tuple[Literal["rise", "fall"], np.ndarray], ...] = (("rise", off[rises]), ("fall", off[~rises]))
    shifts = []
    for direction, own in kinds:
        if len(own) >= _FEWEST_EDGES:
            error = float(own.std()) / sqrt(len(own))
            limit = max(PART_SPREAD_PS + limits.feigned_ps, ceil(6 * error))
            shifts.append(Shift(direction, round(trimmed_mean(own)), limit, len(own)))
    return tuple(shifts)

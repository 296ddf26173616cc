"""Two sound boards that settle each in its own way are not doubted; one that makes clearly more is."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from tracecore.compare.divergence import Limits
from tracecore.compare.short_pulses import one_sided

LIMITS = Limits(32_500, 325_000, 10_000, 12_500)
"""Sampled every 10 ns and every 12.5 ns, neither in step with the clock."""


@pytest.mark.parametrize(
    ("good", "suspect", "told"),
    [(352, 300, False), (300, 300, False), (40, 32, False), (300, 480, True), (600, 300, True), (0, 40, True)],
)
def test_a_memory_that_settles_otherwise_on_either_board_is_no_doubt(good: int, suspect: int, told: bool) -> None:
    """Most pulses of one sample, some of two; a few have a twin."""
    lasts = [np.where(np.arange(count) % 5, 1, 2) * period for count, period in ((good, 10_000), (suspect, 12_500))]
    matching = SimpleNamespace(short_pulses_ps=lasts, short_pairs=min(good, suspect) // 4)
    found = SimpleNamespace(matching=matching, draws=(np.arange(good), np.arange(suspect)))
    assert one_sided(found, LIMITS) is told  # type: ignore[arg-type]

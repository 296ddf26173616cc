"""Levels and timing of the pair that a comparison shows: one entry for the window, the report and the commands."""

from __future__ import annotations

from dataclasses import dataclass

from tracecore.compare.learned_timing import more_good_timing
from tracecore.compare.level_comparison import LevelReport, LevelRequest, compare_levels
from tracecore.compare.timing_comparison import TimingReport, TimingSettings, compare_timing
from tracecore.comparison import Comparison
from tracecore.errors import RequestError


@dataclass(frozen=True, slots=True, eq=False)
class LevelsAndTiming:
    """Both reports; ``troubles`` say in one sentence each why one of them could not be made."""

    levels: LevelReport | None
    timing: TimingReport
    troubles: tuple[str, ...] = ()


def levels_and_timing(comparison: Comparison) -> LevelsAndTiming:
    """Measures the pair that a comparison shows, by its own sheet and family."""
    request, lineup = comparison.request, comparison.lineup
    troubles: list[str] = []
    levels = None
    try:
        levels = compare_levels(comparison.signals, lineup, request.sheet, LevelRequest(request.family))
    except RequestError as error:
        troubles.append(str(error))
    settings = TimingSettings()
    more = more_good_timing(request, lineup, settings)
    timing = compare_timing(comparison.signals, lineup, request.sheet, settings, more)
    return LevelsAndTiming(levels, timing, tuple(troubles))

"""Levels and timing of the pair that a comparison shows: one entry for the window, the report and the commands."""

from __future__ import annotations

from dataclasses import dataclass, replace

from tracecore.compare.learned_timing import more_good_timing
from tracecore.compare.level_comparison import LevelReport, compare_levels, level_request
from tracecore.compare.timing_comparison import TimingReport, TimingSettings, compare_timing
from tracecore.comparison import Comparison


@dataclass(frozen=True, slots=True, eq=False)
class LevelsAndTiming:
    """Both reports of a pair."""

    levels: LevelReport
    timing: TimingReport


def levels_and_timing(comparison: Comparison) -> LevelsAndTiming:
    """Measures the pair that a comparison shows, by its own sheet and settings."""
    request, lineup = comparison.request, comparison.lineup
    levels = comparison.levels or compare_levels(comparison.signals, lineup, request.sheet, level_request(request))
    settings = TimingSettings()
    more = more_good_timing(request, lineup, settings)
    timing = compare_timing(comparison.signals, lineup, request.sheet, settings, more)
    timing = replace(timing, clocks=comparison.clocks, drift_ppm=lineup.drift_ppm)
    return LevelsAndTiming(levels, timing)

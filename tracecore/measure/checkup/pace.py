"""Is the capture fine enough in time for its clock?

Common practice: at least four samples a cycle for states, ten for timing. Below two a clock cannot be seen at all:
it shows up as a slower one, with at least two samples a cycle, and only signals that change faster than that give
it away.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from tracecore.capture import Capture, DigitalTrace, sorted_union
from tracecore.measure.checkup.line import CheckLine
from tracecore.measure.clock import ClockCandidate, active_edges_ps
from tracecore.name_lists import few_names
from tracecore.own_names import EACH_ROW
from tracecore.quantities import format_rate, format_time, group_digits

FEWEST_EDGES = 8
"""Without so many active edges nothing can be lined up."""

_EVEN = 0.5
_OR_CYCLES = 'If the board\'s own clock took each row, choose the layout "cycle rows".'
_FEWEST_PULSES = 20
_SURELY_EVEN, _MOVING_ROWS = 0.9, 0.4
_AT_THE_LIMIT = 2.2
FEWEST_SAMPLES = 3
"""With fewer samples a cycle nothing is called fit, and nothing agrees."""
_FOLDED_UP_TO = 8.0  # samples a cycle up to which a clock may be the fold of one below 1.2 samples a cycle


def keeps_changes(capture: Capture) -> bool:
    """Does the file hold changes with their times, and no samples? Its finest step is then no sample period."""
    return "change" in capture.reader


def pace_lines(
    capture: Capture, traces: Mapping[str, DigitalTrace], clocks: tuple[ClockCandidate, ...]
) -> list[CheckLine]:
    """The clock and how finely it is seen; where there is none, why."""
    if capture.row_is_cycle:
        return [_rows_line(capture, clocks)]
    if not clocks:
        length = format_time(capture.stop_ps - capture.start_ps)
        text = f"No signal rises even {FEWEST_EDGES} times in {length}: too short or too still to line up."
        return [CheckLine("bad", text)]
    clock = clocks[0]
    if clock.regularity < _EVEN:
        return [CheckLine("look", "No signal ticks evenly: name the clock yourself.")]
    samples = _samples_a_cycle(traces[clock.signal], capture.resolution_ps)
    folded = _folded(clock, samples, traces, capture.resolution_ps)
    if folded is not None:
        return [folded]
    if keeps_changes(capture):
        return [_times_line(capture, clock, samples)]
    return [_samples_line(clock, samples)]


def _rows_line(capture: Capture, clocks: tuple[ClockCandidate, ...]) -> CheckLine:
    """Rows of which a person said that the board's own clock took them; samples change in few rows, and the clock that
    they show ticks among them."""
    rows = len(capture.digital[EACH_ROW].times_ps) // 2 - 1
    moves = sorted_union(*(t.transitions_ps for name, t in capture.digital.items() if name != EACH_ROW))
    ticks = next((own for own in clocks if own.signal != EACH_ROW and own.regularity >= _SURELY_EVEN), None)
    if ticks is not None and len(moves) < _MOVING_ROWS * rows:
        each = rows / max(1, ticks.edges)
        text = (
            f"{ticks.signal} ticks evenly, every {each:.0f} rows, and in most rows nothing moves: these look like "
            "samples, not like cycles of the board's clock. If so, choose another layout."
        )
        return CheckLine("look", text)
    text = f"Each row is a cycle of the board's clock: {group_digits(rows)} cycles, fit for states alone."
    return CheckLine("fine", text)


def _samples_a_cycle(trace: DigitalTrace, resolution_ps: int) -> float:
    """The mean over the usual cycles: of 2.4 samples a cycle the median would leave 2."""
    periods = np.diff(active_edges_ps(trace, "rising"))
    usual = periods[np.abs(periods - np.median(periods)) <= 1.5 * resolution_ps]
    # of periods of two lengths, as many of each, none lies near the median between them
    return float((usual if len(usual) else periods).mean()) / resolution_ps


def _number(samples: float) -> str:
    return f"{samples:.0f}" if samples >= 9.95 else f"{samples:.1f}".removesuffix(".0")


def _samples_line(clock: ClockCandidate, samples: float) -> CheckLine:
    text = f"Clock {clock.signal} {format_rate(clock.rate_hz)}, {_number(samples)} samples a cycle: "
    # as printed, here and below: a period rounded to the picosecond leaves a little less
    if samples < FEWEST_SAMPLES - 0.05:
        return CheckLine("bad", text + "too few; a state that lasts for one cycle may be missed. Capture faster.")
    if samples < 4:
        return CheckLine("look", text + "few for states, too few for timing; capture faster.")
    if samples < 9.5:
        return CheckLine("look", text + "fit for states, timing only coarsely.")
    return CheckLine("fine", text + "fit for states and timing.")


def _times_line(capture: Capture, clock: ClockCandidate, steps: float) -> CheckLine:
    """Changes carry times, no samples: how finely the instrument looked is not in the file."""
    step = format_time(capture.resolution_ps)
    text = f"Clock {clock.signal} {format_rate(clock.rate_hz)}, times to {step}: "
    if steps < FEWEST_SAMPLES:
        return CheckLine("bad", text + "too coarse; a state that lasts for one cycle may be missed. Capture finer.")
    if steps < 4:
        return CheckLine("look", text + "coarse for states, too coarse for timing; capture finer.")
    if steps < 9.5:
        return CheckLine("look", text + "fit for states, timing only coarsely.")
    return CheckLine("fine", text + "fit for states and timing, if the instrument looks as finely as it writes.")


def _folded(
    clock: ClockCandidate, samples: float, traces: Mapping[str, DigitalTrace], resolution_ps: int
) -> CheckLine | None:
    """A clock of fewer than two samples a cycle, seen as a slower one.

    A signal holds for one cycle at least, so one that often holds for clearly less has a faster clock than this.
    """
    text = f"Clock {clock.signal} looks like {format_rate(clock.rate_hz)}, "
    if samples < _AT_THE_LIMIT:
        return CheckLine(
            "bad",
            text + f"{_number(samples)} samples a cycle: a faster clock would look the same. States are doubtful and "
            f"timing cannot be judged; capture at least twice as fast. {_OR_CYCLES}",
        )
    if samples > _FOLDED_UP_TO:
        return None
    others = {n: t for n, t in traces.items() if n != clock.signal and len(t.times_ps) >= _FEWEST_PULSES}
    faster = [n for n, t in others.items() if _often_below(t, (samples - 1.2) * resolution_ps)]
    if len(faster) < 2 or len(faster) < 0.3 * len(others):
        return None
    return CheckLine(
        "bad",
        text + f"but {few_names(faster, 4)} change faster than that: fewer than two samples a cycle, or not the clock. "
        f"Timing cannot be judged; capture faster. {_OR_CYCLES}",
    )


def _often_below(trace: DigitalTrace, least_ps: float) -> bool:
    return float((np.diff(trace.times_ps[1:]) <= least_ps).mean()) > 0.1

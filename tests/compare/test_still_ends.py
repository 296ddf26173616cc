"""A board that hangs where the known-good capture does not reach is not cleared, and a sound one is not doubted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.plant import CLOCK, Plant
from tracecore.capture import Capture, DigitalTrace
from tracecore.comparison import CompareRequest, Comparison, compare

LONG = Plant(7, cycles=1500)
ENDS_PS = 1_000 * LONG.period_ps


def cut(capture: Capture, stop_ps: int) -> Capture:
    """The capture up to ``stop_ps``."""
    traces = {}
    for name, own in capture.digital.items():
        kept = int(own.times_ps.searchsorted(stop_ps))
        traces[name] = DigitalTrace(own.times_ps[:kept], own.levels[:kept], stop_ps)
    return replace(capture, digital=traces)


def hung(capture: Capture, from_ps: int, *names: str) -> Capture:
    """These signals stand still from ``from_ps`` on."""
    traces = dict(capture.digital)
    for name in names:
        own = traces[name]
        kept = int(own.times_ps.searchsorted(from_ps))
        traces[name] = DigitalTrace(own.times_ps[:kept], own.levels[:kept], own.stop_ps)
    return replace(capture, digital=traces)


def against_shorter(suspect: Capture) -> Comparison:
    good = cut(LONG.again(0).capture(), ENDS_PS)
    return compare(CompareRequest((good,), (suspect,), clock=CLOCK))


def test_what_hangs_behind_the_known_good_capture_is_no_agreement() -> None:
    found = against_shorter(hung(LONG.again(1).capture(), ENDS_PS + 100 * LONG.period_ps, "D01", "D02"))
    (told,) = [n for n in found.notices if n.code == "still_at_the_end"]
    assert set(told.signals) == {"D01", "D02"}
    assert found.outcome.exit_status == 2


def test_a_sound_board_that_was_captured_for_longer_agrees() -> None:
    found = against_shorter(LONG.again(1).capture())
    assert found.outcome.exit_status == 0
    assert found.lineup.coverage.suspect.after > 400


def test_one_capture_cut_shorter_is_taken_for_one_and_two_runs_are_not() -> None:
    own = LONG.again(1).capture()
    start = int(own.digital[CLOCK].times_ps[101])
    later = {}
    for name, trace in own.digital.items():
        at = max(0, int(trace.times_ps.searchsorted(start, "right")) - 1)
        times = np.maximum(trace.times_ps[at:] - start, 0)
        later[name] = DigitalTrace(times, trace.levels[at:], trace.stop_ps - start)
    cropped = replace(own, name="again", digital=later)
    codes = {n.code for n in compare(CompareRequest((own,), (cropped,), clock=CLOCK)).notices}
    assert "same_run" in codes
    assert "same_run" not in {n.code for n in against_shorter(own).notices}
    asked = compare(CompareRequest((own,), (cropped,), clock=CLOCK, same_file=True))
    assert "same_run" not in {n.code for n in asked.notices}

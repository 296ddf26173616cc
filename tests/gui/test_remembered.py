"""What is remembered for the tests of the window is never the answer to another request."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from tests.gui.remembered import Remembered
from tracecore.capture import DigitalTrace
from tracecore.circuit.probe_sheet import read_probe_sheet
from tracecore.comparison import CompareRequest
from tracecore.readers import read_capture


def request_of(files: dict[str, Path]) -> CompareRequest:
    good, suspect = (read_capture(files[name]) for name in ("good", "bad"))
    return CompareRequest((good,), (suspect,), read_probe_sheet(files["sheet"]), clock="MCLK")


def one_level_turned(request: CompareRequest) -> CompareRequest:
    (suspect,) = request.suspect
    name, trace = next((name, trace) for name, trace in suspect.digital.items() if len(trace.levels) > 2)
    levels = trace.levels.copy()
    levels[-1] = 2
    turned = DigitalTrace(trace.times_ps.copy(), levels, trace.stop_ps)
    return replace(request, suspect=(replace(suspect, digital={**suspect.digital, name: turned}),))


def leads_exchanged(request: CompareRequest) -> CompareRequest:
    (suspect,) = request.suspect
    digital = dict(suspect.digital)
    digital["c0"], digital["c1"] = digital["c1"], digital["c0"]
    return replace(request, suspect=(replace(suspect, digital=digital),))


def test_the_same_files_read_again_are_not_compared_again(bench_files: dict[str, Path]) -> None:
    asked: list[CompareRequest] = []
    compare = Remembered(lambda request, _: asked.append(request) or object())
    assert compare(request_of(bench_files)) is compare(request_of(bench_files))
    assert len(asked) == 1


@pytest.mark.parametrize(
    "changed",
    [
        one_level_turned,
        leads_exchanged,
        lambda request: replace(request, clock="STB"),
        lambda request: replace(request, tolerance_ps=1),
        lambda request: replace(request, offset=0),
        lambda request: replace(request, sheet=replace(request.sheet, probes=request.sheet.probes[:-1])),
        lambda request: replace(request, good=request.suspect, suspect=request.good),
    ],
)
def test_whatever_differs_is_compared_anew(
    changed: Callable[[CompareRequest], CompareRequest], bench_files: dict[str, Path]
) -> None:
    compare = Remembered(lambda request, _: request)
    request = request_of(bench_files)
    other = changed(request)
    assert compare(request) is request
    assert compare(other) is other

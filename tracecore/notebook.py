"""Comparing in a line, for a notebook or a script: what ``from tracecore import compare`` gives."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from tracecore import comparison
from tracecore.capture import Capture
from tracecore.circuit.pin_list import PinList, read_pin_list
from tracecore.circuit.probe_sheet import ProbeSheet, read_probe_sheet
from tracecore.circuit.wire_list import WireList, read_wire_list
from tracecore.compare.request import CompareRequest, Progress
from tracecore.errors import RequestError
from tracecore.quantities import parse_time_ps
from tracecore.readers import read_capture
from tracecore.settings import Edge

CaptureOrFile = Capture | str | Path
"""A capture, or the path of a file that needs nothing said to be read."""


def compare(
    good: CaptureOrFile | Iterable[CaptureOrFile],
    suspect: CaptureOrFile | Iterable[CaptureOrFile],
    *,
    sheet: ProbeSheet | str | Path | None = None,
    wires: WireList | str | Path | None = None,
    pins: PinList | str | Path | None = None,
    clock: str | None = None,
    edge: Edge = "rising",
    offset: int | None = None,
    same_start: bool = False,
    family: str = "74",
    tolerance: int | str | None = None,
    qualifier: str | None = None,
    same_file: bool = False,
    progress: Progress | None = None,
) -> comparison.Comparison:
    """Compares a known-good and a suspect capture, or several of each; the first of each side is the shown pair.

    ``sheet`` (a probe sheet), ``wires`` (a wire list) and ``pins`` (a pin list) are values or paths. ``tolerance`` is a
    text such as ``"20 ns"``, or whole picoseconds. All others are as ``tracecore.settings.CompareSettings`` says.
    Raises RequestError where the request cannot be met, CaptureFileError and SheetError for a file that cannot be
    read, and ValueError for a text that is no time. A fault of the board is a finding, never an error.
    """
    return comparison.compare(
        CompareRequest(
            _captures(good),
            _captures(suspect),
            read_probe_sheet(sheet) if isinstance(sheet, (str, Path)) else sheet or ProbeSheet(),
            read_wire_list(wires) if isinstance(wires, (str, Path)) else wires,
            read_pin_list(pins) if isinstance(pins, (str, Path)) else pins,
            clock=clock,
            edge=edge,
            offset=offset,
            same_start=same_start,
            family=family,
            tolerance_ps=round(parse_time_ps(tolerance)) if isinstance(tolerance, str) else tolerance,
            qualifier=qualifier,
            same_file=same_file,
        ),
        progress,
    )


def _captures(given: CaptureOrFile | Iterable[CaptureOrFile]) -> tuple[Capture, ...]:
    if isinstance(given, (Capture, str, Path)):
        given = (given,)
    elif not isinstance(given, Iterable):
        given = (_path(given),)
    return tuple(one if isinstance(one, Capture) else read_capture(_path(one)) for one in given)


def _path(given: object) -> str | Path:
    if not isinstance(given, (str, Path)):
        raise RequestError(f"Found {type(given).__name__} as a capture; expected what read_capture gives, or a path.")
    return given

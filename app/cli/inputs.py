"""Captures, sheets and wire lists that a command names, read; and the comparison of what they hold."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.cli.settings_options import reading_typed, settings_typed

if TYPE_CHECKING:
    from argparse import Namespace

    from tracecore.capture import Capture
    from tracecore.circuit.probe_sheet import ProbeSheet
    from tracecore.circuit.wire_list import WireList
    from tracecore.comparison import CompareRequest, Comparison
    from tracecore.readers.settings import ReadSettings


def read_sheet(path: str | None) -> ProbeSheet:
    """The probe sheet, or an empty one."""
    from tracecore.circuit.probe_sheet import ProbeSheet, read_probe_sheet

    return read_probe_sheet(path) if path else ProbeSheet()


def read_wires(path: str | None) -> WireList | None:
    """The wire list, or None."""
    from tracecore.circuit.wire_list import read_wire_list

    return read_wire_list(path) if path else None


def read_captures(paths: list[str], reading: ReadSettings | None = None) -> tuple[Capture, ...]:
    """Each file as a capture, with progress on a terminal."""
    from app.cli.terminal import progress
    from tracecore.readers import read_capture

    said = {} if reading is None else reading.arguments
    with progress() as tell:
        return tuple(read_capture(path, **said, progress=tell) for path in paths)


def request_typed(arguments: Namespace, sheet: ProbeSheet, wires: WireList | None = None) -> CompareRequest:
    """The comparison of the files that were named on both sides, as it was typed."""
    from tracecore.comparison import CompareRequest

    settings, reading = settings_typed(arguments), reading_typed(arguments)
    good, suspect = (read_captures(names, reading) for names in (arguments.good, arguments.suspect))
    return CompareRequest(good, suspect, sheet, wire_list=wires, **settings.named)


def compared(request: CompareRequest) -> Comparison:
    """The comparison, with progress on a terminal."""
    from app.cli.terminal import progress
    from tracecore.comparison import compare

    with progress() as tell:
        return compare(request, tell)

"""Captures, sheets and wire lists that a command names, read; and the comparison of what they hold."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TYPE_CHECKING

from app.cli.settings_options import reading_typed, settings_typed

if TYPE_CHECKING:
    from argparse import Namespace

    from tracecore.capture import Capture
    from tracecore.circuit.continuity.readings import ContinuityList
    from tracecore.circuit.pin_list import PinList
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


def read_circuit(pins: str | None, readings: str | None) -> tuple[PinList, ContinuityList]:
    """The pin list and the ohm readings, or empty ones."""
    from tracecore.circuit.continuity.readings import ContinuityList, read_continuity
    from tracecore.circuit.pin_list import PinList, read_pin_list

    return (
        read_pin_list(pins) if pins else PinList(),
        read_continuity(readings) if readings else ContinuityList(),
    )


def read_captures(paths: list[str], reading: ReadSettings | None = None) -> tuple[Capture, ...]:
    """Each file as a capture, with progress on a terminal."""
    from app.cli.terminal import progress
    from tracecore.readers import read_capture

    said = {} if reading is None else reading.arguments
    with progress() as tell:
        return tuple(read_capture(path, **said, progress=tell) for path in paths)


def request_typed(
    arguments: Namespace, sheet: ProbeSheet, wires: WireList | None = None, pins: PinList | None = None
) -> CompareRequest:
    """The comparison of the files that were named on both sides, as it was typed."""
    from tracecore.comparison import CompareRequest

    settings = settings_typed(arguments)
    good, suspect, sheet, same = _read_sides(arguments, sheet)
    own = (arguments.good_sheet or "", arguments.suspect_sheet or "")
    return CompareRequest(
        good, suspect, sheet, wire_list=wires, pins=pins, own_sheets=own, same_names=same, **settings.named
    )


Sides = tuple[tuple["Capture", ...], tuple["Capture", ...], "ProbeSheet", tuple[tuple[str, str], ...]]


def _read_sides(arguments: Namespace, sheet: ProbeSheet) -> Sides:
    """The captures of both sides under the names of one sheet, and the names that were taken for one signal; parts of
    one run are joined where that was asked for.

    Raises RequestError where files of a side have no signal in common, and nobody said that they are parts.
    """
    from app.case.side_changes import pair_words
    from app.case.side_names import one_sheet
    from tracecore.sides.names import answering, renamed, same_names

    several_to_join(arguments.join, arguments.good, arguments.suspect)
    own = (read_sheet(arguments.good_sheet), read_sheet(arguments.suspect_sheet))
    good, suspect = (
        tuple(
            _called(capture, side_sheet, sheet, arguments.clock)
            for capture in of_one_run(read_captures(paths, reading_typed(arguments)), arguments.join)
        )
        for paths, side_sheet in zip((arguments.good, arguments.suspect), own, strict=True)
    )
    suspect = tuple(answering(capture, good[0].channels) for capture in suspect)
    good = tuple(answering(capture, suspect[0].channels) for capture in good)
    alike = same_names(suspect[0], good[0].channels)
    if arguments.match_names:
        suspect = tuple(renamed(capture, same_names(capture, good[0].channels)) for capture in suspect)
    elif alike:
        pairs = pair_words(tuple(alike.items()))
        print(
            f"Not compared, as their names differ: {pairs}. If each pair is one signal, add --match-names.",
            file=sys.stderr,
        )
    return good, suspect, one_sheet(sheet, own), tuple(alike.items()) if arguments.match_names else ()


def _called(capture: Capture, own: ProbeSheet, sheet: ProbeSheet, clock: str | None) -> Capture:
    """The capture under the names of its side's ``own`` sheet, or of the ``sheet`` of both."""
    from tracecore.sides.names import answering, renamed

    wanted = [probe.channel for probe in own.probes or sheet.probes]
    return renamed(answering(capture, [*wanted, clock or ""]), {p.channel: p.signal for p in own.probes})


def watched_side(
    arguments: Namespace, sheet: ProbeSheet
) -> tuple[tuple[Capture, ...], ProbeSheet, Callable[[Capture], Capture]]:
    """The known-good captures of a watch, the sheet of both sides, and what gives each capture that lands their names.

    Raises RequestError as for a comparison.
    """
    from app.case.side_names import one_sheet
    from tracecore.sides.names import answering, renamed, same_names

    several_to_join(arguments.join, arguments.good)
    own = (read_sheet(arguments.good_sheet), read_sheet(arguments.suspect_sheet))
    captures = of_one_run(read_captures(arguments.good, reading_typed(arguments)), arguments.join)
    good = tuple(_called(capture, own[0], sheet, arguments.clock) for capture in captures)
    names = good[0].channels

    def named(capture: Capture) -> Capture:
        capture = answering(_called(capture, own[1], sheet, arguments.clock), names)
        return renamed(capture, same_names(capture, names)) if arguments.match_names else capture

    return good, one_sheet(sheet, own), named


def several_to_join(join: str | None, *sides: list[str]) -> None:
    """Raises RequestError where files are to be joined and no side has two."""
    from tracecore.errors import RequestError

    if join is not None and all(len(files) < 2 for files in sides):
        found = ("1 file a side" if len(sides) > 1 else "1 file") if any(sides) else "no file"
        raise RequestError(f"--join {join}: found {found}. Name all parts of the run.")


def of_one_run(captures: tuple[Capture, ...], join: str | None) -> tuple[Capture, ...]:
    """The captures of a side, or the one that they are parts of: joined by the trigger, or by a signal that each of
    them holds. A scope's part may hold it in volts.

    Raises RequestError where they cannot be joined, and where they have no signal in common though nobody said that
    they are parts.
    """
    from tracecore.errors import RequestError
    from tracecore.lineup.one_run import join_through
    from tracecore.sides.join import joined

    if join is not None:
        logic, volts = [c for c in captures if join in c.digital], [c for c in captures if join in c.analog]
        if len(captures) == 2 and len(logic) == len(volts) == 1:
            return (join_through(logic[0], volts[0], (join, join)).capture,)
        return (joined(captures, join),)
    for other in captures[1:]:
        if not set(other.channels) & set(captures[0].channels):
            raise RequestError(
                f"{captures[0].name} and {other.name} hold no signal in common, so the one is no repeat of the other. "
                "If they are parts of one run, say how they are joined: --join trigger, or --join and a signal of both."
            )
    return captures


def compared(request: CompareRequest) -> Comparison:
    """The comparison, with progress on a terminal."""
    from app.cli.terminal import progress
    from tracecore.comparison import compare

    with progress() as tell:
        return compare(request, tell)

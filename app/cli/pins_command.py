"""``twinslot pins``: what of a pin list the captures reach, what cannot be right in it, and which chips obey."""

from __future__ import annotations

import argparse
import sys
from typing import Any

from app.cli.settings_options import reading_options, reading_typed

OBEY, DISOBEY = 0, 1


def add_pins(commands: Any) -> None:
    """The arguments of the command."""
    words = "check a pin list, and its chips against captures"
    parser = commands.add_parser("pins", help=words, allow_abbrev=False, parents=[reading_options()])
    parser.description = (
        "Says what cannot be right in a pin list (CSV net,slot,pin,part,part_pin,direction,note). With captures of "
        "both sides it says what of the list they reach, and for each chip whether it obeys its inputs on either side."
    )
    parser.epilog = "Exit status: 0 nothing is wrong, 1 a chip disobeys on suspect or the list has a fault, 2 trouble."
    parser.add_argument("file", metavar="FILE", help="pin list")
    parser.add_argument("--good", metavar="FILE", help="capture of the known-good board")
    parser.add_argument("--suspect", metavar="FILE", help="capture of the suspect board")
    parser.add_argument("--sheet", metavar="FILE", help="probe sheet (CSV): which pin each channel was clipped to")
    parser.add_argument("--clock", metavar="NAME", help="signal whose edges count the cycles (found if not given)")


def pins(arguments: argparse.Namespace) -> int:
    """Runs the command; status 1 where the list has a fault, or a chip disobeys on the suspect side."""
    from app.cli.inputs import compared, read_captures
    from app.cli.terminal import fit
    from app.report.chip_words import chip_words
    from app.report.continuity_words import pin_fault_words
    from tracecore.chips import chips_on_both_sides
    from tracecore.circuit.parts.catalogue import find_part
    from tracecore.circuit.pin_list import read_pin_list
    from tracecore.circuit.probe_sheet import ProbeSheet, read_probe_sheet
    from tracecore.comparison import CompareRequest
    from tracecore.errors import RequestError

    def legs(number: str) -> tuple[int, ...] | None:
        try:
            return tuple(find_part(number).pins)
        except RequestError:
            return None

    def line(text: str) -> None:
        print(fit(text, sys.stdout))

    found = read_pin_list(arguments.file)
    faults = found.faults(legs)
    for fault in faults:
        line(pin_fault_words(fault))
    line(f"{len(found.nets)} nets, {len(found.numbers)} chips with a number, {len(faults)} faults in the list.")
    if bool(arguments.good) != bool(arguments.suspect):
        raise RequestError("Chips are judged on both sides: give --good and --suspect.")
    if not arguments.good:
        return DISOBEY if faults else OBEY
    sheet = read_probe_sheet(arguments.sheet) if arguments.sheet else ProbeSheet()
    good, suspect = read_captures([arguments.good, arguments.suspect], reading_typed(arguments))
    comparison = compared(CompareRequest((good,), (suspect,), sheet, clock=arguments.clock))
    reached, others = found.reached({s.signal for s in comparison.signals})
    few = ", ".join(others[:8]) + (f" and {len(others) - 8} more" if len(others) > 8 else "")
    line(f"The captures reach {len(reached)} of {len(found.nets)} nets" + (f"; not {few}." if others else "."))
    chips = chips_on_both_sides(comparison, found)
    for chip in chips:
        line(chip_words(chip))
    wrong = any(c.suspect is not None and c.suspect.verdict == "disobeys" for c in chips)
    return DISOBEY if faults or wrong else OBEY

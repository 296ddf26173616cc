"""``twinslot pins``: what of a pin list the captures reach, what cannot be right in it, and which chips obey."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from app.cli.settings_options import reading_options, reading_typed

OBEY, DISOBEY, CANNOT_TELL = 0, 1, 2


def add_pins(commands: Any) -> None:
    """The arguments of the command."""
    words = "check a pin list, and its chips against captures"
    parser = commands.add_parser("pins", help=words, allow_abbrev=False, parents=[reading_options()])
    parser.description = (
        "Says what cannot be right in a pin list (CSV net,slot,pin,part,part_pin,direction,note). With captures of "
        "both sides it says what of the list they reach, and for each chip whether it obeys its inputs on either side."
    )
    parser.epilog = (
        "Exit status: 0 nothing is wrong, 1 a chip disobeys on suspect or the list has a fault, 2 trouble, or it "
        "cannot be told of a chip on suspect."
    )
    parser.add_argument("file", metavar="FILE", help="pin list")
    parser.add_argument("--wires", metavar="FILE", help="wire list: what of it the captures reach, too")
    parser.add_argument(
        "--readings", metavar="FILE", help="ohm readings of the good side that put further pins on nets"
    )
    parser.add_argument("--keep", metavar="FILE", help="write the list with the pins that were learnt")
    parser.add_argument("--good", metavar="FILE", help="capture of the known-good board")
    parser.add_argument("--suspect", metavar="FILE", help="capture of the suspect board")
    parser.add_argument("--sheet", metavar="FILE", help="probe sheet (CSV): which pin each channel was clipped to")
    parser.add_argument("--clock", metavar="NAME", help="signal whose edges count the cycles (found if not given)")


def pins(arguments: argparse.Namespace) -> int:
    """Runs the command; status 1 where the list has a fault, or a chip disobeys on the suspect side, 2 where that
    cannot be told of one."""
    from app.cli.inputs import compared, read_captures
    from app.cli.terminal import fit, say
    from app.report.chip_words import chip_words
    from app.report.continuity_words import pin_fault_words
    from app.report.list_words import hint_words, hints_of, learnt_lines, legs_of, reach_words
    from tracecore.circuit.continuity.readings import read_continuity
    from tracecore.circuit.learnt_pins import learnt_pins
    from tracecore.circuit.pin_list import PinList, read_pin_list, write_pin_list
    from tracecore.circuit.probe_sheet import ProbeSheet, read_probe_sheet
    from tracecore.circuit.wire_list import read_wire_list
    from tracecore.compare.chips import chips_on_both_sides
    from tracecore.comparison import CompareRequest
    from tracecore.errors import RequestError

    def line(text: str) -> None:
        print(fit(text, sys.stdout))

    found = read_pin_list(arguments.file)
    faults = found.faults(legs_of)
    for fault in faults:
        line(pin_fault_words(fault))
    line(f"{len(found.nets)} nets, {len(found.numbers)} chips with a number, {len(faults)} faults in the list.")
    sheet = read_probe_sheet(arguments.sheet) if arguments.sheet else ProbeSheet()
    if arguments.readings:
        learnt = learnt_pins(read_continuity(arguments.readings), found, sheet)
        for sentence in learnt_lines(learnt):
            line(sentence)
        found = PinList((*found.rows, *learnt.rows), found.path)
    if arguments.keep:
        Path(arguments.keep).write_text(write_pin_list(found.rows), encoding="utf-8")
        say(f"Written: {arguments.keep}")
    if bool(arguments.good) != bool(arguments.suspect):
        raise RequestError("Chips are judged on both sides: give --good and --suspect.")
    if not arguments.good:
        return DISOBEY if faults else OBEY
    good, suspect = read_captures([arguments.good, arguments.suspect], reading_typed(arguments))
    comparison = compared(CompareRequest((good,), (suspect,), sheet, clock=arguments.clock))
    captured = {s.signal for s in comparison.signals}
    line(reach_words(found, captured))
    if arguments.wires:
        wires = read_wire_list(arguments.wires)
        line(wires.use(captured))
        for told in wires.notices(captured):
            line(told.sentence)
    for hint in hints_of(comparison, found):
        line(hint_words(hint))
    chips = chips_on_both_sides(comparison, found)
    for chip in chips:
        line(chip_words(chip))
    wrong = any(c.suspect is not None and c.suspect.verdict == "disobeys" for c in chips)
    if faults or wrong:
        return DISOBEY
    # a chip that was not judged may be the faulty one, and no chip judged clears none
    obey = [c.suspect is not None and c.suspect.verdict == "obeys" for c in chips]
    return OBEY if obey and all(obey) else CANNOT_TELL

"""Files about the circuit that go into a case: wire list, pin list, ohm readings, stock list."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from app.case.change import Change

OPTIONS = {
    "wires": "wire list (CSV part,kind,output,inputs); '' takes it out",
    "pins": "pin list (CSV net,slot,pin,part,part_pin,direction,note); '' takes it out",
    "readings": "ohm readings of both sides (CSV from,to,ohms,side,read_on,by,note); they join those of the case",
    "donors": "stock list (CSV board,position,number,date_code); '' takes it out",
}


def circuit_options(parser: argparse.ArgumentParser) -> None:
    """An option for each file."""
    for name, words in OPTIONS.items():
        parser.add_argument(f"--{name}", metavar="FILE", help=words)


def circuit_given(arguments: argparse.Namespace) -> bool:
    """Was any of them given?"""
    return any(getattr(arguments, name) is not None for name in OPTIONS)


def circuit_changes(arguments: argparse.Namespace) -> Iterator[Change]:
    """The change that each file is. Raises SheetError where one cannot be taken."""
    from app.case.circuit_changes import AddReadings, SetDonors, SetPinList, SetWireList
    from tracecore.circuit.continuity.readings import read_continuity
    from tracecore.circuit.parts.replacements import read_donors
    from tracecore.circuit.pin_list import read_pin_list
    from tracecore.circuit.wire_list import read_wire_list

    if arguments.wires is not None:
        yield SetWireList(read_wire_list(arguments.wires) if arguments.wires else None)
    if arguments.pins is not None:
        yield SetPinList(read_pin_list(arguments.pins) if arguments.pins else None)
    if arguments.readings:
        found = read_continuity(arguments.readings)
        yield AddReadings(found.readings, found.good_leads_ohms or None, found.suspect_leads_ohms or None)
    if arguments.donors is not None:
        yield SetDonors(read_donors(arguments.donors) if arguments.donors else ())

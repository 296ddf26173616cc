"""Likely causes and the ohm meter: what was measured stands first, what reads as good moves nothing."""

from __future__ import annotations

from tracecore.causes.measured import measured_causes
from tracecore.circuit.continuity.readings import ContinuityList, parse_continuity
from tracecore.circuit.pin_list import parse_pin_list
from tracecore.circuit.probe_sheet import parse_probe_sheet
from tracecore.compare.findings import Cause

PINS = parse_pin_list(
    "net,slot,pin,direction\nD03,6,B22,out\nD03,7,B04,in\nACK,4,B09,out\nACK,7,A09,in\nGND,7,A36,supply\n"
)
SHEET = parse_probe_sheet("channel,signal,slot,pin\nL0,D03,7,B04\nL1,ACK,7,A09\nL2,WAIT,7,A12\n")
CAUSES = tuple(
    Cause(rank, signal, "stuck low", 100, 0, "", (), (), "") for rank, signal in enumerate(("ACK", "WAIT", "D03"), 1)
)


def _told(rows: str) -> list[tuple[int, str, str]]:
    readings = parse_continuity("from,to,ohms,side,note\n" + rows) if rows else ContinuityList()
    found = measured_causes(CAUSES, PINS, readings, SHEET)
    return [(m.cause.rank, m.cause.signal, m.place.place if m.place is not None else "") for m in found]


def test_without_readings_the_order_stands() -> None:
    assert _told("") == [(1, "ACK", ""), (2, "WAIT", ""), (3, "D03", "")]


def test_a_wire_that_reads_open_comes_first() -> None:
    rows = "6-B22,7-B04,0.2,good,\n6-B22,7-B04,open,suspect,\n"
    assert _told(rows) == [(1, "D03", "wire"), (2, "ACK", ""), (3, "WAIT", "")]


def test_a_wire_that_reads_as_on_good_moves_nothing_and_asks_for_the_ground() -> None:
    rows = "6-B22,7-B04,0.2,good,\n6-B22,7-B04,0.2,suspect,\n"
    assert [signal for _, signal, _ in _told(rows)] == ["ACK", "WAIT", "D03"]
    found = measured_causes(CAUSES, PINS, parse_continuity("from,to,ohms,side,note\n" + rows), SHEET)
    assert found[2].step is not None
    assert (found[2].step.kind, len(found[2].read)) == ("ground empty", 1)


def test_what_reads_open_on_both_sides_accuses_nothing() -> None:
    rows = "6-B22,7-B04,open,good,\n6-B22,7-B04,open,suspect,\n"
    assert _told(rows)[0] == (1, "ACK", "")
    assert _told(rows)[2] == (3, "D03", "cannot be told")


def test_something_that_holds_the_net_comes_first() -> None:
    rows = "6-B22,7-B04,0.2,suspect,\n7-B04,7-A36,open,good,\n7-B04,7-A36,open,suspect,\n"
    rows += "7-B04,7-A36,2.1k,good,card in\n7-B04,7-A36,3,suspect,card in\n"
    assert _told(rows)[0] == (1, "D03", "card")

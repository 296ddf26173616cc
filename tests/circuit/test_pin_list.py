"""Pin lists: what is taken, what cannot be right, and the way from a net's driver to the receiver that goes wrong."""

from __future__ import annotations

import pytest

from tracecore.circuit.pin_list import parse_pin_list, write_pin_list
from tracecore.errors import SheetError

TEXT = """net,slot,pin,part,part_pin,direction,note
D03,6,B22,U3 7400,3,out,
D03,9,B11,U9 7404,1,in,
D03,7,B04,U7 74181,2,in,
D03,,,U8 7404,1,in,behind the card's edge
GND,7,A36,,,supply,
"""
PINS = parse_pin_list(TEXT)


def test_a_net_knows_its_driver_its_receivers_and_the_leg_behind_a_pin() -> None:
    assert [row.place for row in PINS.drivers("D03")] == ["6-B22"]
    assert [row.leg for row in PINS.receivers("D03")] == ["U9-1", "U7-2", "U8-1"]
    assert PINS.net_at("U7-2") == PINS.net_at("7-B04") == "D03"
    assert PINS.numbers["U7"] == "74181"
    assert PINS.legs("U7") == {2: "D03"}
    assert PINS.ground_of("7") == "7-A36"


def test_written_and_read_back_it_is_the_same() -> None:
    assert parse_pin_list(write_pin_list(PINS.rows)).rows == PINS.rows


@pytest.mark.parametrize(
    ("to", "points"),
    [
        ("", ("6-B22", "9-B11", "7-B04", "U8-1")),
        ("7-B04", ("6-B22", "9-B11", "7-B04")),
        ("U7-2", ("6-B22", "9-B11", "7-B04", "U7-2")),
        ("9-B11", ("6-B22", "9-B11")),
    ],
)
def test_the_way_to_a_receiver(to: str, points: tuple[str, ...]) -> None:
    path = PINS.path_of("D03", to)
    assert path is not None
    assert path.points == points


@pytest.mark.parametrize(("net", "to"), [("GND", ""), ("D03", "6-B22"), ("D03", "5-A01"), ("NONE", "")])
def test_where_no_way_is_known(net: str, to: str) -> None:
    assert PINS.path_of(net, to) is None


def test_a_leg_is_behind_a_contact() -> None:
    path = PINS.path_of("D03", "U7-2")
    assert path is not None
    assert [path.piece_kind(index) for index in range(3)] == ["wire", "wire", "contact"]
    assert path.ground == "7-A36"
    assert path.receiver == "7-B04"


def test_what_of_it_the_captures_reach() -> None:
    assert PINS.reached({"D03", "MCLK"}) == (("D03",), ("GND",))


@pytest.mark.parametrize(
    ("rows", "faults"),
    [
        ("Q,,,U1 7400,3,out,\nQ,,,U2 7400,3,out,\n", ["two outputs"]),
        ("Q,,,U1 7400,3,three-state,\nQ,,,U2 7400,3,three-state,\n", []),
        ("Q,,,U1 7400,3,out,\nQ,,,U2 7400,3,open collector,\n", ["two outputs"]),
        ("Q,,,U1 7400,1,in,\nQ,,,U2 7400,1,in,\n", ["no driver"]),
        ("Q,,,U1 7400,1,in,\nQ,7,B04,,,,\n", []),
        ("Q,,,U1 7400,3,out,\nQ,,,U2 7400,1,in,\nR,,,U2,1,in,\nR,,,U1,6,out,\n", ["pin on two nets"]),
        ("Q,,,U1 7400,3,out,\nQ,,,U2 7400,15,in,\n", ["no such leg"]),
        ("Q,,,U1 7400,3,out,\n", ["net of one pin"]),
        ("+5V,7,A02,,,supply,\n", []),
    ],
)
def test_what_cannot_be_right(rows: str, faults: list[str]) -> None:
    pins = parse_pin_list("net,slot,pin,part,part_pin,direction,note\n" + rows)
    legs = {"7400": range(1, 15)}
    assert [fault.kind for fault in pins.faults(legs.get)] == faults


@pytest.mark.parametrize(
    ("row", "found"),
    [
        (",7,B04,U7,2,in,", "'' as net"),
        ("Q,,,,,in,", "'Q' as net"),
        ("Q,7,B,,,in,", "'B' as pin"),
        ("Q,,,U7,two,in,", "'two' as part_pin"),
        ("Q,,,U7,0,in,", "'0' as part_pin"),
        ("Q,7,B04,,,sideways,", "'sideways' as direction"),
        ("Q,,,U 7/4,1,in,", None),
        ("Q,,,U/7 7400,1,in,", "'U/7 7400' as part"),
    ],
)
def test_bad_cells(row: str, found: str | None) -> None:
    text = "net,slot,pin,part,part_pin,direction,note\n" + row + "\n"
    if found is None:
        assert parse_pin_list(text).rows[0].number == "7/4"
        return
    with pytest.raises(SheetError) as caught:
        parse_pin_list(text, "pins.csv")
    assert caught.value.found == found
    assert caught.value.line == 2

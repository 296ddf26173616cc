"""The wire list: what is taken, and what each error says."""

from __future__ import annotations

import pytest

from tracecore.circuit.wire_list import parse_wire_list, read_wire_list
from tracecore.errors import SheetError

HEAD = "part,kind,output,inputs\n"


def test_rows_are_taken_in_order_with_columns_anywhere():
    wires = parse_wire_list("output;part;inputs;kind\nQ;U1; D  CE ;Register\n\nY;U2;A;gate\n")
    assert [(r.part, r.kind, r.output, r.inputs) for r in wires.rows] == [
        ("U1", "register", "Q", ("D", "CE")),
        ("U2", "gate", "Y", ("A",)),
    ]


def test_registers_with_an_enable_and_memories_have_kinds_of_their_own():
    wires = parse_wire_list(HEAD + "U1,Enabled Register,Q,D LOAD\nU2,memory,M,A0 A1 WRITE\n")
    assert [row.kind for row in wires.rows] == ["enabled register", "memory"]


def test_a_net_with_two_drivers_keeps_both():
    wires = parse_wire_list(HEAD + "U1,gate,BUS,A\nU2,gate,BUS,B\n")
    assert [r.part for r in wires.drivers("BUS")] == ["U1", "U2"]
    assert wires.drivers("A") == ()


@pytest.mark.parametrize(
    ("text", "line", "found", "expected"),
    [
        ("", 1, "the heading ''", "the columns part,kind,output,inputs"),
        (HEAD, None, "no rows", "a row for each output"),
        (HEAD + "U1,gate,Y\n", 2, "3 cells", "4: part"),
        (
            HEAD + "U1,latch,Y,A\n",
            2,
            "'latch' as kind",
            "gate, register, enabled register, memory, three-state or open",
        ),
        (HEAD + "U1,gate,Y,\n", 2, "'' as inputs", "one net name"),
        (HEAD + "U1,gate,Y,A A\n", 2, "'A A' as inputs", "each net once"),
        (HEAD + "U1,gate,,A\n", 2, "'' as output", "the name of the net"),
        (HEAD + ",gate,Y,A\n", 2, "'' as part", "the name of the part"),
        (HEAD + "U1,gate,Y,A\nU1,gate,Y,B\n", 3, "output 'Y' of U1 a second time", "line 2"),
    ],
)
def test_errors_say_line_found_expected_and_what_to_do(text, line, found, expected):
    with pytest.raises(SheetError) as caught:
        parse_wire_list(text, "slot7.csv")
    assert caught.value.line == line
    assert found in caught.value.found
    assert expected in caught.value.expected
    assert str(caught.value).startswith("slot7.csv")
    assert caught.value.do


def test_a_file_that_is_not_there_or_no_text(tmp_path):
    with pytest.raises(SheetError, match="no readable file"):
        read_wire_list(tmp_path / "none.csv")
    (tmp_path / "raw.csv").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SheetError, match="UTF-8"):
        read_wire_list(tmp_path / "raw.csv")


def test_a_list_that_names_nothing_captured_and_two_plain_outputs_on_a_net_are_told():
    wires = parse_wire_list(HEAD + "U1,gate,BUS,A\nU2,three-state,BUS,B\nU3,gate,Y,A\n")
    (one,) = wires.notices({"A", "BUS"})
    assert "2 parts drive BUS (U1, U2)" in one.text
    nothing, _ = wires.notices({"D07", "CLK"})
    assert "names no captured signal" in nothing.text
    assert "(CLK, D07)" in nothing.do


@pytest.mark.parametrize("kind", ["three-state", "Open Collector"])
def test_outputs_that_may_share_a_net_are_not_told(kind):
    wires = parse_wire_list(HEAD + f"U1,{kind},BUS,A\nU2,{kind},BUS,B\n")
    assert wires.notices({"BUS"}) == ()


def test_how_much_of_a_list_the_captures_reach():
    wires = parse_wire_list(HEAD + "U1,gate,Y,A B\nU2,gate,Z,Y\n", "lists/slot7.csv")
    assert wires.use({"A", "Y", "Z"}) == (
        "Wire list slot7.csv used for the likely causes: 2 rows, 1 with every net captured."
    )

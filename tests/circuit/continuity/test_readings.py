"""Continuity lists: what is taken, what is refused in one sentence, and that nothing is lost."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracecore.circuit.continuity.pin_name import pin_name
from tracecore.circuit.continuity.readings import (
    OPEN,
    Reading,
    ohms_text,
    parse_continuity,
    parse_ohms,
    read_continuity,
    write_continuity,
)
from tracecore.errors import SheetError


@pytest.mark.parametrize(
    ("text", "ohms"),
    [("0.2", 0.2), ("2.1k", 2100), ("2.1 K", 2100), ("1M", 1e6), ("0.3 ohm", 0.3), ("1.5 kohm", 1500), ("open", OPEN),
     ("OL", OPEN), ("9.9E+37", OPEN), ("-0.05", -0.05), ("", None)],
)  # fmt: skip
def test_ohms_as_typed(text: str, ohms: float | None) -> None:
    assert parse_ohms(text) == ohms


@pytest.mark.parametrize("text", ["short", "0,2", "-5", "1G", "--", "nan", "inf"])
def test_what_is_no_reading(text: str) -> None:
    with pytest.raises(ValueError):
        parse_ohms(text)


@given(st.one_of(st.none(), st.just(OPEN), st.floats(0, 1e12)))
def test_ohms_survive_the_list(ohms: float | None) -> None:
    assert parse_ohms(ohms_text(ohms)) == ohms


def test_a_list_written_and_read_back_is_the_same() -> None:
    rows = (
        Reading("6-B22", "7-B04", 0.2, "good", "4 Feb", "R.", "card in; red on B04"),
        Reading("6-B22", "7-B04", math.inf, "suspect", note='a "quoted", note'),
        Reading("U7-3", "7-B04", None, "suspect"),
    )
    back = parse_continuity(write_continuity(rows, [("good", 0.3)]))
    assert [(r.start, r.end, r.ohms, r.side, r.read_on, r.by, r.note) for r in back.readings] == [
        (r.start, r.end, r.ohms, r.side, r.read_on, r.by, r.note) for r in rows
    ]
    assert back.good_leads_ohms == 0.3
    assert back.readings[0].card_in


def test_spreadsheets_with_semicolons_write_a_decimal_comma() -> None:
    assert parse_continuity("from;to;ohms;side\n1-A1;2-A1;0,2;good\n").readings[0].ohms == 0.2


@pytest.mark.parametrize(
    ("text", "line", "column", "found"),
    [
        ("from,to,ohms,side\n6-B22,7B04,0.2,good\n", 2, 2, "'7B04' as to"),
        ("from,to,ohms,side\n6-B22,7-B04,short,good\n", 2, 3, "'short' as ohms"),
        ("from,to,ohms,side\n6-B22,7-B04,0.2,left\n", 2, 4, "'left' as side"),
        ("from,to,ohms,side\n6-B22,7-B04,0.2\n", 2, None, "3 cells"),
        ("from,to,ohms,side\n6-B22,6-b22,0.2,good\n", 2, 2, "'6-b22' as to"),
        ("from,to,ohm,side\n6-B22,7-B04,0.2,good\n", 1, 3, "heading 'ohm'"),
        ("from,to,side\n6-B22,7-B04,good\n", 1, None, "no column 'ohms'"),
        ("from,to,ohms\n6-B22,7-B04,1\n", 2, None, "a reading without a side"),
        ("from,to,ohms,side\n", None, None, "no rows under the heading"),
        ("from,to,ohms,side\nleads,leads,open,good\n", 2, 3, "'open' as ohms"),
    ],
)
def test_bad_cells_are_told_with_line_and_column(text: str, line: int, column: int, found: str) -> None:
    with pytest.raises(SheetError) as caught:
        parse_continuity(text, "list.csv")
    assert (caught.value.line, caught.value.column, caught.value.found) == (line, column, found)
    assert str(caught.value).startswith("list.csv")


def test_rows_of_the_other_side_are_said_to_be_left_out(tmp_path) -> None:
    path = tmp_path / "both.csv"
    path.write_text("from,to,ohms,side\n6-B22,7-B04,0.2,good\n6-B22,7-B04,open,suspect\n")
    taken = read_continuity(path, "good")
    assert [r.side for r in taken.readings] == ["good"]
    assert "1 row is of the suspect side" in taken.notes[0]


def test_a_reading_entered_fills_the_row_that_waits_and_replaces_no_value() -> None:
    waiting = parse_continuity("from,to,ohms,side\n6-B22,7-B04,,suspect\n")
    first = waiting.entered(Reading("7-B04", "6-B22", 0.2, "suspect"))
    again = first.entered(Reading("6-B22", "7-B04", OPEN, "suspect"))
    assert [r.ohms for r in first.readings] == [0.2]
    assert [r.ohms for r in again.readings] == [0.2, OPEN]


@pytest.mark.parametrize("text", ["", "B04", "7-", "7-B", "7-B04x", "7 B04", "-B04", "7-B1234"])
def test_what_is_no_pin(text: str) -> None:
    with pytest.raises(ValueError):
        pin_name(text)

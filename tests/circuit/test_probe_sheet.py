"""Probe sheets: what is taken, what is refused and where, and the round trip."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracecore.circuit.probe_sheet import Probe, begins_as_sheet, parse_probe_sheet, read_probe_sheet, write_probe_sheet
from tracecore.errors import SheetError

word = st.text(st.characters(categories=("L", "N")), min_size=1, max_size=8)


@given(
    st.lists(
        st.builds(
            Probe,
            channel=word,
            signal=word,
            slot=word,
            pin=word,
            active=st.sampled_from(["high", "low"]),
            bus=word,
            bit=st.none() | st.integers(0, 40),
            note=st.sampled_from(["", 'a, "b"', "x;y"]),
        ),
        min_size=1,
        max_size=6,
        unique_by=(lambda p: p.channel, lambda p: p.signal),
    )
)
def test_a_written_sheet_reads_back_the_same(probes):
    assert parse_probe_sheet(write_probe_sheet(probes)).probes == tuple(probes)


@pytest.mark.parametrize(
    ("text", "line", "column", "says"),
    [
        ("signal,pin\nA,1\n", 1, None, "no column 'channel'"),
        ("channel,signal,colour\n0,A,red\n", 1, 3, "heading 'colour'"),
        ("channel,signal\n0,A\n1\n", 3, None, "1 cells"),
        ("channel,signal,active\n0,A,up\n", 2, 3, "'up' as active"),
        ("channel,signal,bit\n0,A,x\n", 2, 3, "'x' as bit"),
        ("channel,signal\n0,\n", 2, 2, "'' as signal"),
        ("channel,signal\n0,A\n0,B\n", 3, None, "channel '0' a second time"),
        ("channel,signal\n", None, None, "no rows"),
    ],
)
def test_a_sheet_that_cannot_be_taken_says_where(text, line, column, says):
    with pytest.raises(SheetError) as caught:
        parse_probe_sheet(text, "slot7.csv")
    assert caught.value.line == line
    assert caught.value.column == column
    assert says in str(caught.value)
    assert str(caught.value).startswith("slot7.csv")


def test_semicolons_and_latin_letters_are_taken(tmp_path):
    path = tmp_path / "s.csv"
    path.write_bytes("channel;signal;note\n0;MCLK;Gehäuse\n".encode("latin-1"))
    assert read_probe_sheet(path).probe("0").note == "Gehäuse"


def test_a_channel_that_is_not_on_the_sheet_serves_as_its_own_name():
    sheet = parse_probe_sheet("channel,signal\n0,MCLK\n")
    assert sheet.probe("7").signal == "7"
    assert not sheet.named("7")


@pytest.mark.parametrize(
    ("text", "is_one"),
    [
        ("channel,signal,pin\n0,MCLK,A01\n", True),
        ('\ufeff"Signal"; "Channel"\r\nMCLK;0\r\n', True),
        ("signal,pin\nMCLK,A01\n", False),
        ("time/ps,channel 1,signal\n0,1,1\n", False),
        ("", False),
    ],
)
def test_a_sheet_is_known_by_its_first_line(tmp_path, text, is_one):
    path = tmp_path / "file.csv"
    path.write_text(text, "utf-8")
    assert begins_as_sheet(path) is is_one
    assert not begins_as_sheet(tmp_path / "absent.csv")

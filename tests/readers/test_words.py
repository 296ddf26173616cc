"""Words of a bus: every base and prefix, their bits, what is asked, what is refused, and a plain reading to check."""

from __future__ import annotations

import os
from unittest import mock

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.model.import_preview import preview
from tests.fresh_file import fresh_file
from tests.readers.test_readers import put
from tracecore.errors import MalformedCapture, MissingWordBase, UnknownCapture
from tracecore.readers import read_capture
from tracecore.readers.plan.column_choice import ColumnChoice
from tracecore.readers.rows import pieces
from tracecore.readers.settings import ReadSettings

RATE = "; Samplerate: 1 MHz\n"


def words(capture, name: str = "D") -> list[str]:
    """The bits at each sample or change, most significant first, as a text of 0, 1 and x."""
    bits = [trace for channel, trace in capture.digital.items() if channel.startswith(f"{name}[")]
    times = np.unique(np.concatenate([trace.times_ps for trace in bits]))
    return ["".join("01x"[trace.level_at(np.array([t]))[0]] for trace in bits) for t in times.tolist()]


@pytest.mark.parametrize(
    ("cells", "base", "wanted"),
    [
        (("3F", "12"), None, ["00111111", "00010010"]),
        (("0x3F", "0x12"), None, ["00111111", "00010010"]),
        (("0X3f", "0X12"), None, ["00111111", "00010010"]),
        (("8'h3F", "8'h12"), None, ["00111111", "00010010"]),
        (("6'h3F", "6'h12"), None, ["111111", "010010"]),
        (("'h3F", "'h12"), None, ["00111111", "00010010"]),
        (("0o77", "0o12"), None, ["111111", "001010"]),
        (("6'o77", "6'o12"), None, ["111111", "001010"]),
        (("b0101", "b1100"), None, ["0101", "1100"]),
        (("0b0101", "0b1100"), None, ["0101", "1100"]),
        (("4'b0101", "4'B1100"[:2] + "b1100"), None, ["0101", "1100"]),
        (("077777", "177776"), "octal", ["0111111111111111", "1111111111111110"]),
        (("077777", "177776"), 8, ["0111111111111111", "1111111111111110"]),
        (("10", "11"), "binary", ["10", "11"]),
        (("10", "11"), "hex", ["00010000", "00010001"]),
        (("10", "11"), "octal", ["1000", "1001"]),
        (("b001", "b010"), "hex", ["1011000000000001", "1011000000010000"]),
        (("5", "3F"), None, ["00000101", "00111111"]),
        (("X1", "2x"), "hex", ["xxxx0001", "0010xxxx"]),
        (("b1X0", "b01z"), None, ["1x0", "01x"]),
    ],
)
def test_each_base_and_prefix_gives_its_bits(tmp_path, cells, base, wanted):
    path = put(tmp_path, RATE + "D,CLK\n" + f"{cells[0]},0\n{cells[1]},1\n")
    capture = read_capture(path, word_base=base)
    assert capture.digital["CLK"].levels.tolist() == [0, 1]
    assert words(capture) == wanted
    width = len(wanted[0])
    assert capture.channels == (*(f"D[{i}]" for i in range(width - 1, -1, -1)), "CLK")


@pytest.mark.parametrize(
    ("title", "names"),
    [
        ("D[3:0] (hex)", ("D[3]", "D[2]", "D[1]", "D[0]")),
        ("D[11:8] hex", ("D[11]", "D[10]", "D[9]", "D[8]")),
        ("D[0:3] [hex]", ("D[0]", "D[1]", "D[2]", "D[3]")),
        ("D (octal)", ("D[2]", "D[1]", "D[0]")),
        ("D (binary)", ("D[0]",)),
    ],
)
def test_a_heading_states_base_and_bits(tmp_path, title, names):
    capture = read_capture(put(tmp_path, f"Time (ns),{title},CLK\n0,1,0\n5,0,1\n9,1,1\n"))
    assert capture.channels == (*names, "CLK")
    assert words(capture)[0] == "1".rjust(len(names), "0")


def test_words_behind_a_time_with_unknown_and_empty_cells(tmp_path):
    text = 'Time (us);D[7:0]\n-1,5;"3F"\n0,0;X\n0,25; A0\n1,0;\n2,0;0F\n'
    capture = read_capture(put(tmp_path, text))
    assert (capture.start_ps, capture.reader) == (-1_500_000, "change rows")
    assert words(capture) == ["00111111", "xxxxxxxx", "10100000", "xxxxxxxx", "00001111"]


def test_a_column_of_0_and_1_stays_logic(tmp_path):
    capture = read_capture(put(tmp_path, RATE + "D,CLK\n0,1\n1,0\n"), word_base="hex")
    assert capture.channels == ("D", "CLK")


@pytest.mark.parametrize(
    ("text", "column", "first"),
    [
        (RATE + "D,CLK\n10,0\n11,1\n", 1, "10"),
        (RATE + "CLK,D\n0,077777\n1,012345\n", 2, "077777"),
        ("Time (ns),CLK,D\n0,0,12\n5,1,13\n8,0,14\n", 3, "12"),
        ("Time (ns),D[7:0]\n0,12\n5,13\n8,14\n", 2, "12"),
    ],
)
def test_a_base_that_is_not_evident_is_asked_for(tmp_path, text, column, first):
    path = put(tmp_path, text)
    with pytest.raises(MissingWordBase) as caught:
        read_capture(path)
    assert (caught.value.column, repr(first) in caught.value.found) == (column, True)
    assert "word_base" in caught.value.do
    seen = preview(path, ReadSettings())
    assert (seen.lacks, seen.ready) == ("word base", False)
    assert preview(path, ReadSettings(word_base=16)).ready


@pytest.mark.parametrize("odd", [("F", "00"), ("F", "1F"), ("2", "3"), ("F", "0")])
def test_one_or_two_odd_cells_make_no_words_of_logic(tmp_path, odd):
    path = put(tmp_path, RATE + f"A,B\n0,0\n0,{odd[0]}\n1,1\n1,{odd[1]}\n0,1\n")
    with pytest.raises(MalformedCapture) as caught:
        read_capture(path)
    assert (caught.value.line, caught.value.column) == (4, 2)


def test_a_base_that_is_none_is_refused(tmp_path):
    with pytest.raises(ValueError, match="expected hex, octal or binary"):
        read_capture(put(tmp_path, RATE + "D\n3F\n12\n"), word_base="decimal")


@pytest.mark.parametrize("far", [0, 3000])
@pytest.mark.parametrize(
    ("title", "good", "bad", "base"),
    [
        ("D", "3F", "3G", None),
        ("D", "3F", "0x3F", None),
        ("D", "0x3F", "3F", None),
        ("D", "0x3F", "0x3G", None),
        ("D", "0o17", "0o18", None),
        ("D", "17", "18", "octal"),
        ("D", "11", "12", "binary"),
        ("D", "b0101", "b0121", None),
        ("D[5:0]", "3F", "40", "hex"),
        ("D[3:0]", "F", "X0", "hex"),
        ("D", "6'h3F", "6'h40", None),
        ("D", "3F", "3F" * 9, None),
        ("D", "3F", "", None),
    ],
)
def test_a_word_that_does_not_fit_is_named_by_line_and_column(tmp_path, title, good, bad, base, far):
    rows = f"1,{good},0\n" * (40 + far) + f"0,{bad},1\n" + f"1,{good},0\n" * 40
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, RATE + f"CLK,{title},EN\n" + rows), word_base=base)
    assert (caught.value.line, caught.value.column) == (43 + far, 2)


@pytest.mark.parametrize(
    ("row", "column"), [("1,3F,2", 3), ("1,3F", None), ("1,3F,0,0", None), ("", None), ("Q,3F,0", 1), ("1,3F,X", 3)]
)
def test_other_damage_beside_words_is_named_too(tmp_path, row, column):
    text = RATE + "CLK,D,EN\n" + "1,3F,0\n" * 30 + row + "\n" + "0,12,0\n" * 30
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, text))
    assert (caught.value.line, caught.value.column) == (33, column)


def test_times_that_run_backwards_are_named(tmp_path):
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, "Time (ns),D\n0,3F\n9,12\n5,3F\n"))
    assert (caught.value.line, caught.value.column) == (4, 1)


def test_names_that_can_be_words_are_asked_about(tmp_path):
    with pytest.raises(MalformedCapture, match="a name or a word in hex"):
        read_capture(put(tmp_path, RATE + "FF,CE\n3F,12\n1A,11\n"))


def test_a_comment_mark_in_place_of_the_first_time_hides_no_row_of_words(tmp_path):
    text = "Time (ns),D[7:0] (hex),CLK\n;,DA,0\n" + "".join(f"{i}1,00,0\n" for i in range(1, 9))
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, text))
    assert caught.value.line == 2
    # a comment that is longer stays one
    assert read_capture(put(tmp_path, text.replace(";,DA,0", "; of board DA,DA,0"))).digital["CLK"].stop_ps == 81_000


@pytest.mark.parametrize(("title", "word"), [("D[97:0] (hex)", "3F"), ("D", "99'h3F")])
def test_words_wider_than_64_bits_are_refused(tmp_path, title, word):
    with pytest.raises(MalformedCapture, match="bits stated for 'D'") as caught:
        read_capture(put(tmp_path, RATE + f"CLK,{title}\n0,{word}\n1,{word}\n"))
    assert (caught.value.line, caught.value.column) == (2, 2)


def test_two_channels_of_one_name_are_refused(tmp_path):
    with pytest.raises(UnknownCapture, match=r"two channels named 'D\[0\]'"):
        read_capture(put(tmp_path, RATE + "D,D[0]\n3F,0\n1A,1\n"))


@pytest.mark.parametrize(
    ("cells", "last", "kept"),
    [
        (("3F", "12"), "1A", True),
        (("3F", "12"), "1,", True),
        (("3F", "12"), "1", False),
        (("3F", "1"), "12", False),
        (("3F", "12"), "", False),
    ],
)
def test_a_last_word_that_may_be_cut_is_left_out(tmp_path, cells, last, kept):
    capture = read_capture(put(tmp_path, RATE + f"CLK,D\n0,{cells[0]}\n1,{cells[1]}\n0,{last}"))
    assert capture.stop_ps == (3_000_000 if kept else 2_000_000)
    assert len(capture.notes) == (not kept)


@pytest.mark.parametrize(("last", "kept"), [("1", True), ("1,", True), ("", False)])
def test_a_last_level_that_may_be_cut_is_left_out(tmp_path, last, kept):
    capture = read_capture(put(tmp_path, f"Time (ns),D (hex),CLK\n0,3F,0\n5,12,0\n9,1A,{last}"))
    assert (capture.digital["CLK"].levels.tolist() == [0, 1]) == kept
    assert len(capture.notes) == (not kept)


def test_whole_numbers_of_volts_stay_volts_unless_a_base_is_said(tmp_path):
    path = put(tmp_path, "Time (us),CH1\n0,120\n1,135\n2,99\n3,104\n")
    with pytest.raises(MalformedCapture, match="counts of a converter"):
        read_capture(path)
    assert list(read_capture(path, columns={"CH1": ColumnChoice("volts")}).analog) == ["CH1"]
    assert read_capture(path, word_base="hex").channels[-1] == "CH1[0]"
    stated = put(tmp_path, "Time (us),CH1 (mV)\n0,10\n1,11\n2,10\n3,11\n")
    assert list(read_capture(stated).analog) == ["CH1"]


_PRINT = {
    "hex": (4, "", "{:X}"),
    "0x": (4, "0x", "{:x}"),
    "'h": (4, "'h", "{:X}"),
    "0o": (3, "0o", "{:o}"),
    "b": (1, "b", "{:b}"),
}


@st.composite
def files(draw: st.DrawFn) -> tuple[str, int, list[tuple[int, str, int]]]:
    """Text, bits, and (time in ps, bits as text, level of CLK) of each row, made bit by bit."""
    kind = draw(st.sampled_from(sorted(_PRINT)))
    each, prefix, shown = _PRINT[kind]
    digits = draw(st.integers(2, 64 // each))
    end = draw(st.sampled_from(["\n", "\r\n"]))
    decimals = draw(st.sampled_from(["{}.{:03d}", "{}.{:03d}0"]))
    rows, lines, time = [], [], 0
    for _ in range(draw(st.integers(2, 40))):
        time += draw(st.integers(1, 9000))
        groups = draw(st.lists(st.one_of(st.integers(0, 2**each - 1), st.none()), min_size=digits, max_size=digits))
        text = "".join("X" if g is None else shown.format(g) for g in groups)
        bits = "".join("x" * each if g is None else format(g, f"0{each}b") for g in groups)
        # a hex word 0X.. is refused, as it may be a prefix
        if not prefix and text.startswith("0X"):
            text, bits = "1" + text[1:], "0001" + bits[4:]
        level = draw(st.integers(0, 1))
        rows.append((time, bits, level))
        lines.append(f"{decimals.format(time // 1000, time % 1000)},{prefix}{text},{level}")
    return end.join(["Time (ns),D (hex),CLK" if kind == "hex" else "Time (ns),D,CLK", *lines, ""]), digits * each, rows


def _check_printed(case, block):
    text, width, rows = case
    with mock.patch.object(pieces, "PIECE", block):
        capture = read_capture(fresh_file("words.csv", text.encode()))
    rows = rows[:-1]  # the last one may mark the end
    times = np.array([time for time, _, _ in rows])
    names = [f"D[{i}]" for i in range(width - 1, -1, -1)]
    # three octal digits of which the first is 0 or 1 are seven bits: those above are not made
    made = [name for name in names if name in capture.digital]
    dropped = width - len(made)
    assert dropped < 3
    for at, name in enumerate(made, dropped):
        assert capture.digital[name].level_at(times).tolist() == ["01x".index(bits[at]) for _, bits, _ in rows]
    assert all(set(bits[:dropped]) <= {"0", "x"} for _, bits, _ in rows)
    assert capture.digital["CLK"].level_at(times).tolist() == [level for _, _, level in rows]


_PRINTED = given(files(), st.sampled_from([40, 300, 1 << 20]))


@settings(max_examples=20, deadline=None, suppress_health_check=list(HealthCheck))
@_PRINTED
def test_words_are_read_as_they_were_printed(case, block):
    _check_printed(case, block)


@pytest.mark.long
def test_words_are_read_as_they_were_printed_many_times():
    examples = int(os.environ.get("TWINSLOT_LONG_EXAMPLES", "20000"))
    settings(max_examples=examples, deadline=None, suppress_health_check=list(HealthCheck))(_PRINTED(_check_printed))()


@pytest.mark.parametrize("dress", ["{}", " {}", '"{}"', "{} "])
def test_fast_and_slow_reading_agree(tmp_path, dress):
    random = np.random.default_rng(7)
    values = random.integers(0, 1 << 16, 500)
    rows = [f"{i * 7},{dress.format(format(v, 'X'))},{i & 1}" for i, v in enumerate(values.tolist())]
    capture = read_capture(put(tmp_path, "Time (ns),D[15:0] (hex),CLK\n" + "\n".join(rows) + "\n"))
    times = np.arange(500) * 7000
    for bit in range(16):
        assert capture.digital[f"D[{bit}]"].level_at(times).tolist() == ((values >> bit) & 1).tolist()

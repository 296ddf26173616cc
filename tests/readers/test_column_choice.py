"""What a person says of single columns: kinds, factors, the time anywhere, and cells that do not fit."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from tests.readers.samples import SAMPLES
from tracecore.capture import Capture
from tracecore.errors import CaptureFileError, MalformedCapture, MissingSampleRate, MissingWordBase, UnknownCapture
from tracecore.readers import read_capture
from tracecore.readers.plan.column_choice import KINDS, ColumnChoice, parse_choice
from tracecore.readers.recognise.plan_of import plan_of
from tracecore.readers.rows import pieces
from tracecore.readers.source import Source

MIXED = "A (V),tick (us),B,W,text\n" + "".join(
    f"{i / 10:.1f},{2 * i}.0,{i % 2},{i % 16:X},note {i}\n" for i in range(40)
)
"""Volts, the time in the second column, logic, words of four bits, and a text."""


def put(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "bench.csv"
    path.write_bytes(text.encode())
    return path


def test_a_factor_of_one_column_multiplies_that_column_alone(tmp_path):
    path = put(tmp_path, SAMPLES["volts, two heading rows"].text)
    plain = read_capture(path)
    scaled = read_capture(path, columns={"1": ColumnChoice("volts", 10.0)})
    only = read_capture(path, columns={"1": ColumnChoice(factor=10)})
    assert np.allclose(scaled.analog["1"].volts, plain.analog["1"].volts * 10, rtol=1e-6)
    assert np.array_equal(scaled.analog["2"].volts, plain.analog["2"].volts)
    for name in ("1", "2"):
        assert np.array_equal(scaled.analog[name].volts, only.analog[name].volts)
        assert scaled.analog[name].interval_ps == plain.analog[name].interval_ps
        assert scaled.analog[name].start_ps == plain.analog[name].start_ps
    # a factor of its own goes before the one for all
    both = read_capture(path, columns={"1": ColumnChoice(factor=10)}, volt_scale=Fraction(2))
    assert np.allclose(both.analog["1"].volts, plain.analog["1"].volts * 10, rtol=1e-6)
    assert np.allclose(both.analog["2"].volts, plain.analog["2"].volts * 2, rtol=1e-6)


def test_the_time_may_stand_in_any_column_beside_volts_logic_and_words(tmp_path):
    said = {"W": ColumnChoice("word", base="hex"), "B": ColumnChoice("logic"), "text": ColumnChoice("leave out")}
    capture = read_capture(put(tmp_path, MIXED), columns=said, time_column="tick")
    assert capture.reader == "scope columns"
    assert capture.analog["A"].interval_ps == 2_000_000
    assert capture.analog["A"].volts.tolist() == np.array([i / 10 for i in range(40)], np.float32).tolist()
    assert set(capture.digital) == {"B", "W[3]", "W[2]", "W[1]", "W[0]"}
    at = np.arange(40, dtype=np.int64) * 2_000_000
    assert capture.digital["B"].level_at(at).tolist() == [i % 2 for i in range(40)]
    for bit in range(4):
        assert capture.digital[f"W[{bit}]"].level_at(at).tolist() == [i % 16 >> bit & 1 for i in range(40)]
    assert ("columns as said on opening", "W words hex, B logic, text leave out, tick time") in capture.facts


def test_times_need_not_be_even_without_volts(tmp_path):
    text = "A,when,B\n0,5,X\n1,9,0\n1,30,1\n0,34,1\n"
    capture = read_capture(put(tmp_path, text), time_column="when", time_unit="ns")
    assert capture.reader == "change rows"
    assert capture.digital["A"].times_ps.tolist() == [5_000, 9_000, 34_000]
    assert capture.digital["B"].levels.tolist() == [2, 0, 1]
    unit = read_capture(put(tmp_path, text), columns={"when": ColumnChoice("time", unit="us")})
    assert unit.digital["A"].times_ps.tolist() == [5_000_000, 9_000_000, 34_000_000]
    with pytest.raises(MissingSampleRate, match="line 2, column 2: found the time '5' without a unit"):
        read_capture(put(tmp_path, text), time_column="when")


def test_rows_without_a_time_take_the_rate_that_is_stated_or_given(tmp_path):
    text = "; Samplerate: 10 MHz\nA,B\n0,1\n1,1\n0,0\n"
    capture = read_capture(put(tmp_path, text), columns={"B": ColumnChoice("leave out")})
    assert (tuple(capture.channels), capture.stop_ps) == (("A",), 300_000)
    with pytest.raises(MissingSampleRate):
        read_capture(put(tmp_path, text.partition("\n")[2]), columns={"B": ColumnChoice("leave out")})


# marker rows are no rows of cells: they are for the reader that knows them
@pytest.mark.parametrize("name", [n for n, s in SAMPLES.items() if s.reader != "value change dump" and n != "frames"])
def test_saying_what_each_column_is_anyway_changes_nothing(tmp_path, name):
    path = put(tmp_path, SAMPLES[name].text)
    source = Source(path)
    table = plan_of(source.head())
    source.close()
    plain = read_capture(path)
    choices = {c.name: ColumnChoice(c.kind) for c in table.columns}
    same(read_capture(path, columns=choices), plain)


def same(said: Capture, plain: Capture) -> None:
    assert said.channels == plain.channels
    for channel, trace in plain.digital.items():
        assert said.digital[channel].times_ps.tolist() == trace.times_ps.tolist()
        assert said.digital[channel].levels.tolist() == trace.levels.tolist()
    for channel, volts in plain.analog.items():
        assert said.analog[channel].volts.tolist() == volts.volts.tolist()
        assert said.analog[channel].interval_ps == volts.interval_ps
    assert (said.start_ps, said.stop_ps, said.resolution_ps) == (plain.start_ps, plain.stop_ps, plain.resolution_ps)


@pytest.mark.parametrize(
    ("bad", "line", "column", "words"),
    [
        (("0.3,6.0", "0.3x,6.0"), 5, 1, "'0.3x' in the column 'A', taken for volts; expected a number of volts"),
        (("0.3,6.0", "0.3,"), 5, 2, "'' in the column 'tick', taken for time; expected a number"),
        ((",1,3,note 3", ",2,3,note 3"), 5, 3, "'2' in the column 'B', taken for logic; expected 0 or 1"),
        ((",1,3,note 3", ",1,G,note 3"), 5, 4, "'G' in the column 'W', taken for word; expected a word in hex"),
        ((",1,3,note 3", ",1,3"), 5, None, "4 cells; expected 5 as in the other rows"),
        (("0.3,6.0", "0.3,1.0"), 5, 2, "a time before that of the row above"),
        (("0.3,6.0", "\n0.3,6.0"), 5, None, "a blank line"),
    ],
)
def test_a_cell_that_does_not_fit_its_kind_is_named(tmp_path, bad, line, column, words):
    said = {"W": ColumnChoice("word", base=16), "B": ColumnChoice("logic"), "text": ColumnChoice("leave out")}
    with pytest.raises(MalformedCapture) as told:
        read_capture(put(tmp_path, MIXED.replace(*bad)), columns=said, time_column="tick")
    assert (told.value.line, told.value.column) == (line, column)
    assert words in str(told.value)


def test_a_last_row_without_a_line_end_is_whole_only_where_nothing_can_be_lacking(tmp_path):
    said = {"A": ColumnChoice("volts")}
    capture = read_capture(put(tmp_path, "T (s),A\n0.0,1.0\n0.1,2.0\n0.2,3.0"), columns=said)
    assert len(capture.analog["A"].volts) == 2
    assert capture.notes == ("The last row (line 4) has no line end, may be cut short, and is left out.",)
    whole = read_capture(put(tmp_path, "T (s),A,B\n0.0,1.0,0\n0.1,2.0,1\n0.2,3.0,1"), columns=said)
    assert len(whole.analog["A"].volts) == 3


def test_a_long_file_is_read_in_pieces_and_a_damaged_line_far_down_is_named(tmp_path, monkeypatch):
    monkeypatch.setattr(pieces, "PIECE", 1 << 16)
    count = 22_000
    text = "t (us),B,W\n" + "".join(f"{i}.5,{i // 7 % 2},{i % 512:03o}\n" for i in range(count))
    assert len(text) > 4 * pieces.PIECE
    capture = read_capture(put(tmp_path, text), columns={"W": ColumnChoice("word", base="octal")})
    i = np.arange(count, dtype=np.int64)
    at = i * 1_000_000 + 500_000
    assert np.array_equal(capture.digital["B"].level_at(at), i // 7 % 2)
    assert np.array_equal(capture.digital["W[0]"].level_at(at), i % 2)
    assert np.array_equal(capture.digital["W[8]"].level_at(at), i % 512 >> 8)
    damaged = text.replace("\n21000.5,", "\n21000.5,8")
    with pytest.raises(MalformedCapture, match=r"line 21002, column 2: found '80' in the column 'B'"):
        read_capture(put(tmp_path, damaged), columns={"W": ColumnChoice("leave out")})


def test_what_is_said_of_a_column_that_is_not_there_or_that_is_no_volts_is_told(tmp_path):
    path = put(tmp_path, MIXED)
    with pytest.raises(UnknownCapture, match=r"no column .C.; expected one of: A, tick, B, W, text"):
        read_capture(path, columns={"C": ColumnChoice("logic")})
    with pytest.raises(UnknownCapture, match="no column 'C'"):
        read_capture(path, time_column="C")
    volts = put(tmp_path, SAMPLES["volts, two heading rows"].text)
    with pytest.raises(UnknownCapture, match="no column '3'; expected one of: 1, 2"):
        read_capture(volts, columns={"3": ColumnChoice(factor=10)})
    logic = put(tmp_path, SAMPLES["changes"].text)
    with pytest.raises(UnknownCapture, match="'D0', which is logic"):
        read_capture(logic, columns={"D0": ColumnChoice(factor=10)})
    dump = put(tmp_path, SAMPLES["value change dump"].text)
    with pytest.raises(UnknownCapture, match="no rows of cells"):
        read_capture(dump, columns={"clk": ColumnChoice("logic")})


def test_words_whose_base_does_not_show_are_asked_about(tmp_path):
    path = put(tmp_path, "T (ns),D\n0,10\n5,11\n9,10\n")
    with pytest.raises(MissingWordBase, match="line 2, column 2"):
        read_capture(path, columns={"D": ColumnChoice("word")})
    assert len(read_capture(path, columns={"D": ColumnChoice("word")}, word_base=16).digital) == 8
    assert len(read_capture(path, columns={"D": ColumnChoice("word", base=2)}).digital) == 2


@pytest.mark.parametrize("title", ["Zeit [µs]", "Zeit (us)", "Zeit µs", "t_us", "t/us", "Uhr [µs] rel"])
@pytest.mark.parametrize("place", [0, 2])
def test_a_unit_in_the_title_of_a_column_that_is_said_to_be_the_time_is_taken(tmp_path, title, place):
    """numpy reads the same numbers."""
    columns = [[f"{i % 2}" for i in range(40)], [f"{i // 3 % 2}" for i in range(40)]]
    columns.insert(place, [f"{1.2 * i:.1f}" for i in range(40)])
    names = ["A", "B"]
    names.insert(place, title)
    rows = [",".join(row) for row in zip(*columns, strict=True)]
    path = put(tmp_path, "\n".join(["Bench,LA 16", "Samples,40", ",".join(names), *rows, ""]))
    times, levels = np.loadtxt(path, delimiter=",", skiprows=3, usecols=(place, (place + 1) % 3), unpack=True)
    for said in ({}, {"first_row": 4}):
        capture = read_capture(path, columns={title: ColumnChoice("time")}, **said)
        assert (capture.channels, capture.notes) == (("A", "B"), ())
        at = np.rint(times * 1e6).astype(np.int64)
        name = names[(place + 1) % 3]
        assert capture.digital[name].level_at(at).tolist() == levels.astype(int).tolist()
        assert capture.start_ps == 0
        assert capture.digital["A"].times_ps.tolist() == at.tolist()


@pytest.mark.parametrize("title", ["Zeit [Takte]", "Zeit in Mikrosekunden", "Zeitµs", "Zeit [us"])
def test_a_unit_that_is_not_known_above_a_column_said_to_be_the_time_is_no_second(tmp_path, title):
    path = put(tmp_path, f"A,B,{title}\n" + "".join(f"{i % 2},{i // 3 % 2},{1.2 * i:.1f}\n" for i in range(40)))
    with pytest.raises(MissingSampleRate, match="names no unit that is known") as told:
        read_capture(path, columns={title: ColumnChoice("time")})
    assert (told.value.line, told.value.column) == (1, 3)
    given = read_capture(path, columns={title: ColumnChoice("time", unit="us")})
    assert given.digital["B"].times_ps[1] == 3_600_000


def test_a_column_before_the_one_said_to_be_the_time_is_kept_or_told(tmp_path):
    rows = "".join(f"{i % 2},{i // 3 % 2},{7 * i % 256:02X},{1.2 * i:.1f}\n" for i in range(40))
    capture = read_capture(put(tmp_path, "P,Q,BUS[7:0],Zeit [us]\n" + rows), time_column="Zeit [us]")
    left_out = [name for name in ("P", "Q", "BUS[7:0]") if any(name in note for note in capture.notes)]
    assert sorted([*left_out, *(name.partition("[")[0] for name in capture.channels)]) == ["BUS[7:0]", "P", "Q"]


@pytest.mark.parametrize("row", [0, 7])
def test_a_damaged_cell_in_a_column_before_the_one_said_to_be_the_time_is_named(tmp_path, row):
    rows = [f"{i % 2},{i // 3 % 2},{1.2 * i:.1f}" for i in range(40)]
    rows[row] = "V" + rows[row][1:]
    path = put(tmp_path, "P,Q,Zeit [us]\n" + "\n".join(rows) + "\n")
    with pytest.raises(MalformedCapture, match="in the column 'P', taken for logic") as told:
        read_capture(path, time_column="Zeit [us]")
    assert (told.value.line, told.value.column) == (row + 2, 1)


@pytest.mark.parametrize("kind", KINDS)
def test_a_choice_and_its_text_are_the_same(kind):
    more = {"volts": {"factor": Fraction(5, 2)}, "word": {"base": 8}, "time": {"unit": "ns"}}
    for choice in (ColumnChoice(kind), ColumnChoice(kind, **more.get(kind, {}))):
        assert parse_choice(choice.text) == choice


@pytest.mark.parametrize(
    ("text", "choice"),
    [
        ("word", ColumnChoice("word")),
        ("words", ColumnChoice("word")),
        ("the words", ColumnChoice("word")),
        ("words hex", ColumnChoice("word", base="hex")),
        ("Words Octal", ColumnChoice("word", base="octal")),
        ("volt", ColumnChoice("volts")),
        ("volts x10", ColumnChoice("volts", 10)),
        ("voltsx10", ColumnChoice("volts", 10)),
        ("logic", ColumnChoice("logic")),
        ("the time", ColumnChoice("time")),
        ("Time ns", ColumnChoice("time", unit="ns")),
        ("left out", ColumnChoice("leave out")),
    ],
)
def test_a_kind_may_stand_in_the_plural_and_with_an_article(text, choice):
    assert parse_choice(text) == choice


def test_a_refusal_and_the_guide_list_words_that_are_taken():
    with pytest.raises(ValueError, match="expected") as told:
        parse_choice("amps")
    guide = (Path(__file__).parents[2] / "app" / "help" / "reading_files.md").read_text("utf-8")
    in_guide = re.findall(r"`([^`]*)`", guide.partition("as one of these:")[2].partition("\n\n")[0])
    in_refusal = str(told.value).partition("expected ")[2].rstrip(".").replace(" or ", ", ").split(", ")
    assert in_guide == in_refusal
    assert {parse_choice(text).kind for text in in_guide} == set(KINDS)


@pytest.mark.parametrize(
    "text", ["times", "wordy", "the", "", "amps", "volts x0", "logic x10", "word decimal", "time parsec", "volts 10 10"]
)
def test_a_text_that_says_nothing_of_a_column_is_refused(text):
    with pytest.raises(ValueError, match="expected"):
        parse_choice(text)


def test_two_columns_of_time_are_refused(tmp_path):
    with pytest.raises(UnknownCapture, match="'A' and 'B' said to be the time"):
        read_capture(put(tmp_path, MIXED), columns={"A": ColumnChoice("time")}, time_column="B")


def test_every_damage_of_one_byte_is_an_error_or_the_data_that_stand_there(tmp_path):
    """A flipped byte must never be read as the data that stood there before in another cell or row."""
    text = "t (us),A,B\n" + "".join(f"{i}.0,{i / 4:.2f},{i % 2}\n" for i in range(6))
    said = {"A": ColumnChoice("volts"), "B": ColumnChoice("logic")}
    whole = read_capture(put(tmp_path, text), columns=said)
    start = text.index("\n") + 1
    read = refused = 0
    for at in range(start, len(text)):
        for letter in "x,\n;":
            if text[at] == letter:
                continue
            try:
                found = read_capture(put(tmp_path, text[:at] + letter + text[at + 1 :]), columns=said)
            except CaptureFileError:
                refused += 1
                continue
            read += 1
            # a row that is gone is told
            assert len(found.analog["A"].volts) == len(whole.analog["A"].volts) - len(found.notes)
    assert refused > 20 * max(1, read)


@pytest.mark.parametrize("damage", ["", "x"])
def test_a_column_left_out_is_left_out_whatever_it_holds(tmp_path, damage):
    rows = "".join(f"{i % 2},{i // 3 % 2},{i // 5 % 2}\n" for i in range(50))
    text = "; Samplerate: 10 MHz\nA,B,C\n" + rows
    path = put(tmp_path, text)
    whole = read_capture(path)
    at = text.index("\n", len(text) // 2) + 3
    path = put(tmp_path, text[:at] + (damage or text[at]) + text[at + 1 :])
    kept = read_capture(path, columns={"B": ColumnChoice("leave out")})
    assert kept.channels == ("A", "C")
    for name in kept.channels:
        assert kept.digital[name].times_ps.tolist() == whole.digital[name].times_ps.tolist()
        assert kept.stop_ps == whole.stop_ps
    assert ("columns as said on opening", "B leave out") in kept.facts
    with pytest.raises(UnknownCapture, match="no column of volts, logic or words among those that are left"):
        read_capture(path, columns={name: ColumnChoice("leave out") for name in "ABC"})

"""What stands above the rows: names, units, rates; and the rows that look like headings and are none."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from tests.readers.samples import SAMPLES
from tests.readers.test_readers import agree, put
from tracecore.errors import AmbiguousCapture, CaptureFileError, MalformedCapture, MissingSampleRate, UnknownCapture
from tracecore.readers import READERS, Reader, read_capture, reading
from tracecore.readers.rows import pieces
from tracecore.readers.traces.sample_period import lattice_step_ps

_RATE = "; Samplerate: 1 MHz\n"
_DATA = Path(__file__).parent.parent / "data" / "captures"


@pytest.mark.parametrize(
    ("file", "sample"),
    [
        ("sampled_rows.csv", "named channels"),
        ("sampled_rows.csv.gz", "named channels"),
        ("change_rows.csv", "changes"),
        ("scope_columns.csv", "volts, two heading rows"),
        ("scope_preamble_beside.csv", "preamble beside"),
        ("scope_index.csv", "index with increment"),
    ],
)
def test_files_that_were_kept_still_read_the_same(file, sample):
    agree(read_capture(_DATA / file), SAMPLES[sample])


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("; Channels (2/8): 0, 1\n" + _RATE + "0,1\n0,1\n1,1\n", ("0", "1")),
        (_RATE + "0,1,2,3\n0,1,0,0\n1,1,0,1\n", ("0", "1", "2", "3")),
        (_RATE + "A,B,C\nlogic,logic,logic\n0,1,0\n1,1,1\n", ("A", "B", "C")),
        (_RATE + "A,B,A\n0,1,0\n1,1,1\n", ("A", "B", "A (2)")),
        ("Board on the bench\n" + _RATE + "A,B\n0,1\n1,1\n", ("A", "B")),
        ("Time,A,B\nns,,\n0,0,1\n5,1,1\n9,0,1\n", ("A", "B")),
        ('"Time [us]"\t"A"\t"B"\n0\t0\t1\n5\t1\t1\n9\t0\t1\n', ("A", "B")),
        ('; Samplerate: 1 MHz\n"A, low","B"\n0,1\n1,1\n', ("A, low", "B")),
    ],
)
def test_names_come_from_the_heading(tmp_path, text, names):
    capture = read_capture(put(tmp_path, text))
    assert capture.channels == names


def test_listed_names_are_data_only_once(tmp_path):
    capture = read_capture(put(tmp_path, "; Channels (2/8): 0, 1\n" + _RATE + "0,1\n0,1\n1,1\n"))
    assert capture.stop_ps == 2 * 10**6
    assert capture.facts[-1] == ("channels", "2: 0, 1")


@pytest.mark.parametrize(
    ("text", "line", "column", "found"),
    [
        (_RATE + "A,B\n0,1,1\n1,1\n1,0\n", 3, None, "3 cells"),
        (_RATE + "A,B\n0,2\n1,1\n0,1\n0,1\n", 3, 2, "'2' in the column"),
        (_RATE + "A,B\nq,1\n1,1\n0,1\n0,1\n", 3, 1, "'q' in the column"),
        (_RATE + "A,B\n0,1\n1,1\n0,2", 5, 2, "'2' in the column"),
        ("Time [s],A\nx.0,0\n0.1,1\n0.2,1\n0.3,1\n", 2, 1, "'x.0' in the column"),
        ("Time (s),V,W\n0.0,0.2,abc\n0.1,0.3,0.4\n0.2,1.0,0.4\n0.3,2.2,0.5\n", 2, 3, "'abc'"),
        ("Time (s),V,W\nq,0.2,1.1\n0.1,0.3,0.4\n0.2,1.0,0.4\n0.3,2.2,0.5\n", 2, 1, "'q'"),
        ("Time (s),V\n0.0,0.2\n0.1,0.3,0.4\n0.2,1\n0.3,2.2\n0.4,0.1\n", 3, None, "3 cells"),
        ("Time (s),V\n0.0,0.2\n0.1,0.3\n0.2\n0.3,2.2\n0.4,0.1\n", 4, None, "1 cell"),
        ("Time (s),V\n0.0,0.2\n\n0.2,0.3\n0.3,2.2\n0.4,0.1\n", 3, None, "a blank line"),
        ("Time (s),V\n0.0,0.2\n0.2,0.3\n0.1,1\n0.3,2.2\n0.4,0.1\n", 4, 1, "a time before"),
    ],
)
def test_a_damaged_row_is_named_even_next_to_the_heading(tmp_path, text, line, column, found):
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, text))
    assert (caught.value.line, caught.value.column) == (line, column)
    assert found in caught.value.found


def test_no_sample_rate_is_ever_guessed(tmp_path):
    for text in (
        "A\n0\n1\n",
        "X,CH1\n0,0.2\n1,0.4\n2,3.1\n",
        "Time (s),V\n0.0,0.2\n",
        _RATE[:12] + ": soon\n0,1\n1,1\n",
    ):
        with pytest.raises(MissingSampleRate):
            read_capture(put(tmp_path, text))


def test_an_index_takes_the_rate_that_is_given_or_stated(tmp_path):
    rows = "X,CH1\n0,0.2\n1,0.4\n2,3.1\n"
    given = read_capture(put(tmp_path, rows), sample_rate=Fraction(10**6))
    stated = read_capture(put(tmp_path, "Sample Interval,2e-9\n" + rows))
    assert given.analog["CH1"].interval_ps == 10**6
    assert stated.analog["CH1"].interval_ps == 2000


def test_a_rate_that_is_given_against_the_file_is_noted(tmp_path):
    capture = read_capture(put(tmp_path, _RATE + "0,1\n1,1\n"), sample_rate=Fraction(2 * 10**6))
    assert capture.resolution_ps == 500_000
    assert "The file states 1 MHz" in capture.notes[0]


def test_times_coarser_than_the_rate_give_way_to_the_row_number(tmp_path):
    rows = "".join(f"{round(i / 24)},{i % 2}\n" for i in range(100))
    capture = read_capture(put(tmp_path, "; Samplerate: 24 MHz\nTime [us],A\n" + rows))
    assert capture.reader == "sampled rows"
    assert capture.digital["A"].times_ps[:4].tolist() == [0, 41_667, 83_333, 125_000]


def test_rows_that_share_a_printed_time_are_noted(tmp_path):
    capture = read_capture(put(tmp_path, "Time [s],A\n0.0,0\n0.1,1\n0.1,0\n0.2,1\n"))
    assert capture.digital["A"].times_ps.tolist() == [0, 2 * 10**11]
    assert capture.notes[0].startswith("1 row has the same printed time")


def test_a_row_of_volts_cut_short_is_noted_and_left_out(tmp_path):
    capture = read_capture(put(tmp_path, "Time (s),V,W\n0.0,0.2,1.1\n0.1,0.3,0.4\n0.2,1.0,0.4\n0.3,2.2"))
    assert len(capture.analog["W"].volts) == 3
    assert "line 5" in capture.notes[0]


@pytest.mark.parametrize("last", ["2.2", "2.", "2", ""])
def test_a_last_number_cut_short_is_not_taken_for_another_one(tmp_path, last):
    capture = read_capture(put(tmp_path, "Time (s),V,W\n0.0,0.2,1.11\n0.1,0.3,0.41\n0.2,1.0,0.41\n0.3,2.2," + last))
    assert len(capture.analog["W"].volts) == 3
    assert "line 5" in capture.notes[0]


def test_seven_printed_digits_do_not_blur_the_sample_times(tmp_path):
    rows = "".join(f"{0.00123 + i * 4e-10:.6E},{i % 7 / 2}\n" for i in range(4000))
    trace = read_capture(put(tmp_path, "Time (s),V\n" + rows)).analog["V"]
    assert (trace.start_ps, trace.interval_ps) == (1_230_000_000, 400)


def test_a_row_that_is_missing_is_seen_where_zeros_are_left_away(tmp_path):
    rows = "".join(f"{i / 1e8!r},{i % 7 / 2}\n" for i in range(40) if i != 20)
    with pytest.raises(MalformedCapture, match="a step of 2e-08") as caught:
        read_capture(put(tmp_path, "Time (s),V\n" + rows))
    assert caught.value.line == 22


def test_two_readers_that_claim_a_file_are_both_named(tmp_path, monkeypatch):
    path = put(tmp_path, SAMPLES["changes"].text)
    twin = Reader("twin", READERS[1].recognises)
    monkeypatch.setattr(reading, "READERS", (twin, *READERS))
    with pytest.raises(AmbiguousCapture) as caught:
        read_capture(path)
    assert caught.value.candidates == ("twin", "change rows")
    assert read_capture(path, layout="change rows").reader == "change rows"
    with pytest.raises(UnknownCapture, match="no reader for a layout named"):
        read_capture(path, layout="none such")


def test_a_stray_carriage_return_beside_a_quote_is_read_or_one_sentence(tmp_path):
    capture = read_capture(put(tmp_path, '"Time (s)",A\r"B"\n0.0,0.2\n0.1,0.3\n'))
    assert [len(trace.volts) for trace in capture.analog.values()] == [2]
    with pytest.raises(CaptureFileError):
        read_capture(put(tmp_path, 'words $end\r$var "D" $end\nno rows\n'))


def test_the_unit_survives_latin_1(tmp_path):
    capture = read_capture(put(tmp_path, "Time (µs),V\n0.0,0.2\n0.1,0.3\n0.2,1.5\n".encode("latin-1")))
    assert capture.analog["V"].interval_ps == 100_000


def test_progress_runs_from_the_start_to_the_end(tmp_path):
    told: list[float] = []
    read_capture(put(tmp_path, _RATE + "0,1\n1,0\n" * 200_000), progress=lambda part, task: told.append(part))
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_no_thread_is_left_behind(tmp_path, monkeypatch):
    import threading

    monkeypatch.setattr(pieces, "PIECE", 1 << 16)
    before, beside = threading.active_count(), []
    read_capture(
        put(tmp_path, _RATE + "0,1\n1,0\n" * 40_000),
        progress=lambda *_: beside.append(threading.active_count() - before),
    )
    assert max(beside) > 0
    with pytest.raises(CaptureFileError):
        read_capture(put(tmp_path, _RATE + "0,1\n1,0\n" * 40_000 + "0,7\n1,1\n"))
    assert threading.active_count() == before


def test_a_damaged_row_of_volts_far_down_is_found(tmp_path, monkeypatch):
    monkeypatch.setattr(pieces, "PIECE", 1 << 16)
    rows = [f"{i * 4e-9:.9f},{i % 50 / 10:.2f}" for i in range(40_000)]
    path = put(tmp_path, "Time (s),V\n" + "\n".join(rows) + "\n\n")
    assert len(read_capture(path).analog["V"].volts) == 40_000
    rows[34_321] = rows[34_321].replace(".", ",", 1)
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, "Time (s),V\n" + "\n".join(rows) + "\n"))
    assert caught.value.line == 34_323


@pytest.mark.parametrize("period", [41_666.667, 20_833.333, 12_500.0, 8333.333])
def test_a_lattice_is_found_through_printed_nanoseconds_or_not_at_all(period):
    rng = np.random.default_rng(7)
    times = np.round(np.cumsum(rng.integers(1, 500, 3000)) * period / 1000).astype(np.int64) * 1000
    assert lattice_step_ps(np.diff(times), 1000) == int(np.ceil(period))


@pytest.mark.parametrize("printed", [1, 1000, 10_000])
def test_any_sample_period_of_four_printed_digits_is_found_through_their_rounding(printed):
    """Instruments run at any rate, and round the times of a board's transitions, which lie a few cycles apart."""
    rng = np.random.default_rng(11)
    for period in np.exp(rng.uniform(np.log(max(100, 4 * printed)), np.log(300_000), 40)).tolist():
        cycle = 10**6 / period
        index = np.cumsum(np.round(rng.integers(1, 9, 900) * cycle / 8 + rng.uniform(0, 2, 900)).astype(np.int64) + 1)
        times = np.round(index * period / printed).astype(np.int64) * printed
        assert lattice_step_ps(np.diff(times), printed) == pytest.approx(period, rel=0.02, abs=1.01), period


def test_times_that_are_all_even_by_chance_do_not_hide_the_period():
    times = np.round(np.cumsum(np.random.default_rng(12).integers(1, 200, 800)) * 66_666.667 / 2).astype(np.int64) * 2
    assert lattice_step_ps(np.diff(times), 1) == pytest.approx(66_667, abs=2)


def test_unrelated_times_lie_on_no_lattice():
    rng = np.random.default_rng(8)
    assert lattice_step_ps(rng.integers(20, 10_000, 3000) * 1000, 1000) is None
    assert lattice_step_ps(np.array([250_000, 750_000]), 1000) is None


def test_a_name_that_stands_twice_loses_no_column_of_volts(tmp_path):
    path = tmp_path / "twice.csv"
    path.write_text("X,CH2,CH2,Start,Increment\nSequence,Volt,Volt,0,2.0E-06\n0,0.1,3.1,,\n1,0.2,3.2,,\n2,0.3,3.3,,\n")
    found = read_capture(path).analog
    assert {name: round(float(trace.volts[0]), 3) for name, trace in found.items()} == {"CH2": 0.1, "CH2 (2)": 3.1}

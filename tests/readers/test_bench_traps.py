"""Files that were once read wrongly, or with something lost in silence; made up by their layout, checked by numpy."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from tests.readers.test_bench_layouts import BUS, CLK, VOLTS, levels, rows
from tests.readers.test_readers import put
from tests.thinned import thinned
from tracecore.errors import MalformedCapture, MissingSampleRate, UnknownCapture
from tracecore.readers import read_capture
from tracecore.readers.plan.column_choice import ColumnChoice

NUMBERS = range(60)
BLANK = [""] * 60
US = [f"{i / 10:.1f}" for i in NUMBERS]
TEXT = ["" if i % 5 else f"READ 0x{i:02X}" for i in NUMBERS]
COUNTS = np.rint((VOLTS - 0.5) / 0.02).astype(int) + 128


def without_line(text: str, line: int) -> str:
    lines = text.split("\n")
    del lines[line - 1]
    return "\n".join(lines)


# ---- a row lost in the middle


@pytest.mark.parametrize("step", thinned([0.04, 0.016667, 0.0199, 0.0301]))
@pytest.mark.parametrize("line", [300, 1000, 1980])
def test_a_lost_row_is_reported_where_it_is_lost(tmp_path, step, line):
    text = "Time (us),A (V)\n" + rows([f"{i * step:.2f}" for i in range(2000)], np.resize(VOLTS, 2000))
    assert float(read_capture(put(tmp_path, text)).analog["A"].interval_ps) == pytest.approx(step * 1e6, rel=1e-4)
    with pytest.raises(MalformedCapture, match="as if a row were missing") as caught:
        read_capture(put(tmp_path, without_line(text, line)))
    assert caught.value.line == line
    with pytest.raises(MalformedCapture, match="missing") as caught:
        read_capture(put(tmp_path, without_line(without_line(text, line), line // 2)))
    assert caught.value.line in (line // 2, line - 2, line - 1)


def test_numbers_of_samples_that_leave_some_out_are_told(tmp_path):
    text = "; Samplerate: 25 MHz\nSample,A\n" + rows(range(600), np.resize(CLK, 600))
    assert not read_capture(put(tmp_path, text)).notes
    assert any("first at line 200" in note for note in read_capture(put(tmp_path, without_line(text, 200))).notes)
    every_third = read_capture(put(tmp_path, "Sample,A\n" + rows(range(0, 180, 3), BUS)), sample_rate=Fraction(10**7))
    assert (every_third.resolution_ps, every_third.notes) == (100_000, ())


@pytest.mark.parametrize("step", [0.064, 0.0641, 0.0833, 0.12])
def test_the_interval_of_rounded_times_is_that_of_all_of_them(tmp_path, step):
    capture = read_capture(put(tmp_path, "Time (us),A (V)\n" + rows([f"{i * step:.1f}" for i in NUMBERS], VOLTS)))
    assert float(capture.analog["A"].interval_ps) == pytest.approx(step * 1e6, rel=4e-3)
    assert any("rounded to 100 ns" in note and "--rate" in note for note in capture.notes)
    given = read_capture(
        put(tmp_path, (tmp_path / "capture.csv").read_text()), sample_rate=Fraction(1_000_000) / Fraction(str(step))
    )
    assert given.analog["A"].interval_ps == Fraction(str(step)) * 10**6


# ---- rows that are off the sampling grid


@pytest.mark.parametrize("count", [10, 20, 60])
@pytest.mark.parametrize("marks", ["first", "last", "both"])
def test_a_boundary_row_off_the_grid_is_a_boundary(tmp_path, count, marks):
    steps = np.random.default_rng(count).integers(1, 9, count) * 20_000
    times = list(np.cumsum(steps) + 160_000)
    if marks != "last":
        times.insert(0, times[0] - 57_000)
    if marks != "first":
        times.append(times[-1] + 51_000)
    held = np.resize(BUS, len(times))
    capture = read_capture(put(tmp_path, "Time [s],A\n" + rows([f"{t * 1e-12:.9f}" for t in times], held)))
    assert capture.resolution_ps == 20_000
    assert levels(capture, "A", times[:-1]) == held[:-1].tolist()


# ---- units


@pytest.mark.parametrize("unit", ["(kHz)", "[ticks]"])
def test_a_unit_of_time_that_is_none_never_means_seconds(tmp_path, unit):
    times = [f"{i / 100:.2f}" for i in NUMBERS]
    path = put(tmp_path, f"Time;A\n{unit};(V)\n;;\n" + rows(times, VOLTS, BLANK, delimiter=";"))
    with pytest.raises(MissingSampleRate, match="--time-unit"):
        read_capture(path)
    assert read_capture(path, time_unit="us").analog["A"].interval_ps == 10_000
    # the rate says what one of them is worth
    assert read_capture(path, sample_rate=Fraction(50_000_000)).analog["A"].interval_ps == 20_000


# ---- start and increment


@pytest.mark.parametrize("units", ["Volt,", ",Volt", ","])
@pytest.mark.parametrize("behind", [",,", ""])
@pytest.mark.parametrize("index", [True, False])
def test_a_blank_unit_beside_start_and_increment_drops_no_channel(tmp_path, units, behind, index):
    head = ("X," if index else "") + "CH1,CH2,Start,Increment\n" + ("Sequence," if index else "")
    body = "".join((f"{i}," if index else "") + f"{v},{3.5 - v:.3f}{behind}\n" for i, v in enumerate(VOLTS))
    capture = read_capture(put(tmp_path, head + units + ",-1.2E-03,2.0E-06\n" + body))
    assert (capture.start_ps, capture.resolution_ps) == (-1_200_000_000, 2_000_000)
    assert np.allclose(capture.analog["CH1"].volts, VOLTS)
    assert np.allclose(capture.analog["CH2"].volts, 3.5 - VOLTS)


@pytest.mark.parametrize("index", [True, False])
def test_whole_numbers_beside_start_and_increment(tmp_path, index):
    millivolts = np.rint(VOLTS * 1000).astype(int)
    head = "X,CH1,Start,Increment\nSequence,mV,0,2.0E-06\n" if index else "CH1,Start,Increment\nmV,0,2.0E-06\n"
    body = rows(*([NUMBERS] if index else []), millivolts, BLANK, BLANK)
    capture = read_capture(put(tmp_path, head + body))
    assert np.allclose(capture.analog["CH1"].volts, millivolts / 1000)


# ---- counts of a converter


@pytest.mark.parametrize("title", ["CH1", "CH1 (counts)", "CH1 (LSB)"])
def test_counts_without_a_scale_are_no_volts(tmp_path, title):
    path = put(tmp_path, f"Time (us),{title}\n" + rows(US, COUNTS))
    with pytest.raises(MalformedCapture, match="counts of a converter") as caught:
        read_capture(path)
    assert (caught.value.line, caught.value.column) == (2, 2)
    assert "--column" in str(caught.value)
    said = read_capture(path, columns={"CH1": ColumnChoice("volts", Fraction(1, 50))})
    assert np.allclose(next(iter(said.analog.values())).volts, COUNTS / 50)


@pytest.mark.parametrize(
    ("preamble", "scale", "offset"),
    [
        ("Y Increment,0.02\n", 0.02, 0.0),
        ("Volts per count,0.02\nVolts offset,0.5\n", 0.02, 0.5),
        ("Y Mult,0.02\nY Zero,0.5\nY Off,128\n", 0.02, 0.5 - 128 * 0.02),
        ("Y Increment,0.02,0.04\nY Origin,0.5,0.25\nY Reference,128,128\n", 0.02, 0.5 - 128 * 0.02),
    ],
)
def test_counts_with_a_stated_scale_are_volts(tmp_path, preamble, scale, offset):
    text = f"Sample Interval,1.0E-07\n{preamble}TIME,CH1,CH2\n"
    capture = read_capture(put(tmp_path, text + rows([f"{i * 1e-7:.3E}" for i in NUMBERS], COUNTS, COUNTS)))
    assert np.allclose(capture.analog["CH1"].volts, COUNTS * scale + offset, atol=1e-6)
    if "0.04" in preamble:
        assert np.allclose(capture.analog["CH2"].volts, (COUNTS - 128) * 0.04 + 0.25, atol=1e-6)


def test_a_bus_in_decimal_is_no_volts(tmp_path):
    path = put(tmp_path, "Sample,ADDR,CLK\nDecimal,Decimal,Binary\n" + rows(NUMBERS, COUNTS, CLK))
    with pytest.raises(UnknownCapture, match=r"words in decimal under 'ADDR'.*--column"):
        read_capture(path, sample_rate=Fraction(10**7))


# ---- what is left out is told, what stands still is kept


@pytest.mark.parametrize(
    "head",
    ["Time (us),A (V),Bus\n", "Time,A,Bus\nus,V,\n", "Sample Interval,1.0E-07\nVertical Units,V\nt (us),A,Bus\n"],
)
def test_decoded_text_beside_volts_is_left_out_and_told(tmp_path, head):
    capture = read_capture(put(tmp_path, head + rows(US, VOLTS, TEXT)))
    assert np.allclose(capture.analog["A"].volts, VOLTS)
    assert any("Bus" in note and "--column" in note for note in capture.notes)


@pytest.mark.parametrize("still", ["0.0", "1.0"])
@pytest.mark.parametrize("exponent", ["", "E+00"])
def test_a_level_with_decimals_that_stands_still_is_logic(tmp_path, still, exponent):
    moves = [f"{c}.0{exponent}" for c in CLK]
    capture = read_capture(put(tmp_path, "Time [us],A,CLK\n" + rows(US, [still + exponent] * 60, moves)))
    assert list(capture.digital) == ["A", "CLK"]
    assert levels(capture, "A", [0]) == [int(float(still))]


def test_a_micro_sign_in_each_cell(tmp_path):
    capture = read_capture(put(tmp_path, "Time,CLK,BUS\n" + rows([f"{t} µs" for t in US], CLK, BUS)))
    assert levels(capture, "BUS", np.arange(59) * 100_000) == BUS[:-1].tolist()


def test_dates_too_far_apart_are_told_as_that(tmp_path):
    stamps = [f"2031-{1 + i // 28:02d}-{1 + i % 28:02d}T00:00:00Z" for i in NUMBERS]
    with pytest.raises(MalformedCapture, match="within 11 days of the first") as caught:
        read_capture(put(tmp_path, "Time,A\n" + rows(stamps, CLK)))
    assert (caught.value.line, caught.value.column) == (14, 1)

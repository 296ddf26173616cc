"""Files as benches write them, made up here by their layout, against an independent reading by numpy or pandas."""

from __future__ import annotations

import io
from fractions import Fraction

import numpy as np
import pandas as pd
import pytest

from tests.readers.test_readers import put
from tracecore.errors import CaptureFileError, MalformedCapture, MissingSampleRate
from tracecore.readers import read_capture

_RNG = np.random.default_rng(11)
CLK = np.arange(60) // 2 % 2
BUS = (np.cumsum(_RNG.random(60) < 0.3) % 2).astype(int)
VOLTS = np.round(np.where(CLK, 3.4, 0.2) + _RNG.normal(0, 0.02, 60), 3)


def levels(capture, name, times_ps):
    return capture.digital[name].level_at(np.asarray(times_ps, np.int64)).tolist()


def rows(*columns, delimiter=",", end="\n"):
    return "".join(delimiter.join(map(str, row)) + end for row in zip(*columns, strict=True))


# ---- dresses: how bytes and lines are put


@pytest.mark.parametrize(
    "dress",
    [
        lambda t: t.encode("utf-16"),
        lambda t: t.encode("utf-16-be"),
        lambda t: t.encode("utf-16-le"),
        lambda t: t.replace("\n", "\r").encode(),
        lambda t: t.replace("\n", "\r\n").encode("utf-16"),
    ],
    ids=["mark", "big endian", "little endian", "carriage returns", "both"],
)
@pytest.mark.parametrize("count", [60, 30_000])
def test_letters_and_line_ends(tmp_path, dress, count):
    volts = np.resize(VOLTS, count)
    text = "Time (us),µ A (V),B (V)\n" + rows([f"{i / 100:.2f}" for i in range(count)], volts, 3.5 - volts)
    data = dress(text)
    if data[:2] == b"\0T":
        data = b"\xfe\xff" + data
    capture = read_capture(put(tmp_path, data))
    wanted = pd.read_csv(io.StringIO(text))
    assert (capture.analog["µ A"].volts == wanted["µ A (V)"].to_numpy(np.float32)).all()
    assert capture.analog["B"].interval_ps == 10_000
    logic = "; Samplerate: 10 MHz\nA,B\n" + rows(np.resize(CLK, count), np.resize(BUS, count))
    capture = read_capture(put(tmp_path, dress(logic) if dress(logic)[:1] != b"\0" else b"\xfe\xff" + dress(logic)))
    assert levels(capture, "B", np.arange(count) * 100_000) == np.resize(BUS, count).tolist()


@pytest.mark.parametrize("count", [60, 40_000])
@pytest.mark.parametrize("hollow", [",,\n", ",,\n,,\n,,\n", '"","",""\n'])
def test_rows_of_delimiters_at_the_end_are_left_out_and_told(tmp_path, count, hollow):
    times = [f"{i / 100:.2f}" for i in range(count)]
    volts = read_capture(
        put(tmp_path, "Time (us),A (V),B (V)\n" + rows(times, np.resize(VOLTS, count), [1.5] * count) + hollow)
    )
    logic = read_capture(put(tmp_path, "Time (us),A,B\n" + rows(times, np.resize(CLK, count), [1] * count) + hollow))
    assert len(volts.analog["A"].volts) == count
    assert levels(logic, "A", np.arange(count - 1) * 10_000) == np.resize(CLK, count)[:-1].tolist()
    for capture in (volts, logic):
        assert any("delimiters alone" in note for note in capture.notes)


@pytest.mark.parametrize("count", [60, 40_000])
def test_a_tail_of_nul_bytes_is_named(tmp_path, count):
    text = "; Samplerate: 10 MHz\nA,B\n" + rows(np.resize(CLK, count), [1] * count)
    capture = read_capture(put(tmp_path, text.encode() + b"\0" * 5000))
    assert levels(capture, "A", np.arange(count) * 100_000) == np.resize(CLK, count).tolist()
    assert any("ends in 5000 NUL bytes" in note for note in capture.notes)
    with pytest.raises(CaptureFileError):
        read_capture(put(tmp_path, text.encode() + b"\0" * 5000 + b"0,1\n"))


# ---- times


@pytest.mark.parametrize("zone", ["", "Z", "+02:00", "-0330"])
@pytest.mark.parametrize("between", ["T", " "])
def test_dates_with_nanoseconds(tmp_path, zone, between):
    ns = np.cumsum(_RNG.integers(1, 40, 60)) * 100 + 59_999_990_000
    stamps = [f"2031-05-04{between}23:58:{59 + n // 10**9 - 59:02d}.{n % 10**9:09d}{zone}" for n in ns]
    text = "Timestamp,CLK,BUS\n" + rows(stamps, CLK, BUS)
    capture = read_capture(put(tmp_path, text))
    frame = pd.read_csv(io.StringIO(text))
    when = (
        pd.to_datetime(frame["Timestamp"]).astype("datetime64[ns, UTC]" if zone else "datetime64[ns]").astype("int64")
    )
    wanted = (when - when[0]).to_numpy() * 1000
    assert levels(capture, "BUS", wanted[:-1]) == BUS[:-1].tolist()
    assert capture.resolution_ps == 100_000
    assert dict(capture.facts)["first row at"] == stamps[0]


def test_dates_beside_volts(tmp_path):
    stamps = [f"2031-05-04T00:00:00.{i * 40:09d}Z" for i in range(60)]
    capture = read_capture(put(tmp_path, "Time,A (V)\n" + rows(stamps, VOLTS)))
    assert capture.analog["A"].interval_ps == 40_000
    assert np.allclose(capture.analog["A"].volts, VOLTS)


@pytest.mark.parametrize("blank", ["", " "])
def test_times_with_a_unit_in_each_cell(tmp_path, blank):
    ps = np.cumsum(_RNG.integers(1, 40, 60)) * 50_000
    stamps = [f"{t // 1000}{blank}ns" if t < 10**6 else f"{t / 10**6:.2f}{blank}us" for t in ps]
    capture = read_capture(put(tmp_path, "Time,CLK,BUS\n" + rows(stamps, CLK, BUS)))
    assert levels(capture, "BUS", ps[:-1]) == BUS[:-1].tolist()
    assert capture.digital["CLK"].start_ps == ps[0]


@pytest.mark.parametrize("radixes", ["", ",Hex,Bin\n", "Dec,Hex,Bin\n"])
@pytest.mark.parametrize("first", [0, -20])
def test_numbers_of_samples_with_a_rate_and_a_row_of_radixes(tmp_path, radixes, first):
    data = _RNG.integers(0, 256, 60)
    body = rows(range(first, first + 60), [f"{d:02X}" for d in data], CLK)
    path = put(tmp_path, f"Sample in Buffer,Data,CLK\n{radixes}{body}")
    if not radixes:
        body = rows(range(first, first + 60), BUS, CLK)
        path = put(tmp_path, f"Sample in Buffer,BUS,CLK\n{body}")
    with pytest.raises(MissingSampleRate, match="--rate"):
        read_capture(path)
    capture = read_capture(path, sample_rate=Fraction(24_000_000))
    at = [round((first + i) * 10**12 / 24e6) for i in range(60)]
    assert levels(capture, "CLK", np.array(at) + 1) == CLK.tolist()
    if radixes:
        bits = [levels(capture, f"Data[{b}]", np.array(at) + 1) for b in range(8)]
        assert [sum(bits[b][i] << b for b in range(8)) for i in range(60)] == data.tolist()
    stated = read_capture(put(tmp_path, "; Samplerate: 24 MHz\n" + path.read_text()))
    assert stated.start_ps == capture.start_ps


# ---- levels and other cells


@pytest.mark.parametrize(
    ("low", "high"),
    [("L", "H"), ("FALSE", "TRUE"), ("false", "true"), ("Low", "High"), ("0.0", "1.0"), ("0.00", "1.00")],
)
@pytest.mark.parametrize("timed", [True, False])
def test_words_for_levels(tmp_path, low, high, timed):
    written = [np.where(c, high, low) for c in (CLK, BUS)]
    if timed:
        capture = read_capture(
            put(tmp_path, "Time [us],CLK,BUS\n" + rows([f"{i / 10:.1f}" for i in range(60)], *written))
        )
    else:
        capture = read_capture(put(tmp_path, "; Samplerate: 10 MHz\nCLK,BUS\n" + rows(*written)))
    assert levels(capture, "CLK", np.arange(59) * 100_000) == CLK[:-1].tolist()
    assert levels(capture, "BUS", np.arange(59) * 100_000) == BUS[:-1].tolist()


def test_decoded_text_beside_logic_is_left_out_and_told(tmp_path):
    text = ["" if i % 5 else f"READ 0x{i:02X}" for i in range(60)]
    stamps = [f"{i * 1e-7:.7f}" for i in range(60)]
    capture = read_capture(put(tmp_path, "Time [s],CLK,Decoded,BUS\n" + rows(stamps, CLK, text, BUS)))
    assert capture.channels == ("CLK", "BUS")
    assert levels(capture, "BUS", np.arange(59) * 100_000) == BUS[:-1].tolist()
    assert any("Decoded" in note and "--column" in note for note in capture.notes)


def test_counts_with_a_stated_scale(tmp_path):
    counts = np.rint((VOLTS - 0.5) / 0.02).astype(int) + 128
    head = "Sample Interval,4.0E-09\nY Increment,0.02\nY Origin,0.5\nY Reference,128\nTIME,CH1\n"
    capture = read_capture(put(tmp_path, head + rows([f"{i * 4e-9:.3E}" for i in range(60)], counts)))
    assert np.allclose(capture.analog["CH1"].volts, (counts - 128) * 0.02 + 0.5)


# ---- scope headings


@pytest.mark.parametrize("closed", ["", ",", ",,"])
def test_start_and_increment_without_an_index(tmp_path, closed):
    text = f"CH1,CH2,Start,Increment{closed}\nVolt,Volt,-1.2E-03,2.0E-06{closed}\n"
    body = "".join(f"{v},{3.5 - v:.3f},,{closed}\n" for v in VOLTS)
    capture = read_capture(put(tmp_path, text + body))
    assert (capture.start_ps, capture.analog["CH1"].interval_ps) == (-1_200_000_000, 2_000_000)
    assert np.allclose(capture.analog["CH1"].volts, VOLTS)
    assert np.allclose(capture.analog["CH2"].volts, 3.5 - VOLTS)


def test_one_unit_a_channel_in_a_preamble(tmp_path):
    head = "Record Length,60\nSample Interval,4.0E-09\nVertical Units,V,,mV,\nTIME,CH1,CH1 Peak,CH2,CH2 Peak\n"
    body = "".join(f"{i * 4e-9:.3E},{v},,{1000 * v:.0f},\n" for i, v in enumerate(VOLTS))
    capture = read_capture(put(tmp_path, head + body))
    assert capture.channels == ("CH1", "CH2")
    assert np.allclose(capture.analog["CH2"].volts, VOLTS)


@pytest.mark.parametrize(
    "line", ["Vertical Scale,500,mV", "Time Scale,10,us", "Horizontal Scale,us", "Trigger Level,1.4,V"]
)
def test_further_lines_with_units_in_a_preamble(tmp_path, line):
    head = f"Sample Interval,4.0E-09\n{line}\nVertical Units,V\nHorizontal Units,s\nTIME,CH1\n"
    capture = read_capture(put(tmp_path, head + rows([f"{i * 4e-9:.3E}" for i in range(60)], VOLTS)))
    assert capture.analog["CH1"].interval_ps == 4000
    assert np.allclose(capture.analog["CH1"].volts, VOLTS)


@pytest.mark.parametrize("digits", [6, 7, 9])
@pytest.mark.parametrize("start", [-1e-3, 0.0, 2.5e-4])
def test_even_times_rounded_by_a_spreadsheet(tmp_path, digits, start):
    times = start + np.arange(5000) * 3.2e-7
    text = "Time (s),A (V)\n" + rows([f"{t:.{digits}g}" for t in times], np.resize(VOLTS, 5000))
    capture = read_capture(put(tmp_path, text))
    assert float(capture.analog["A"].interval_ps) == pytest.approx(320_000, rel=1e-4)
    assert (capture.analog["A"].volts == pd.read_csv(io.StringIO(text))["A (V)"].to_numpy(np.float32)).all()


def test_a_damaged_cell_of_a_worded_time_is_named(tmp_path):
    stamps = [f"2031-05-04T00:00:00.{i * 40:09d}Z" for i in range(60)]
    stamps[30] = stamps[30].replace(":", ";")
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, "Time,A\n" + rows(stamps, CLK)))
    assert (caught.value.line, caught.value.column) == (32, 1)

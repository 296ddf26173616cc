"""What a heading states is taken as it stands, or told: units, rates, channels without a unit."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from tests.readers.test_readers import put
from tracecore.errors import CaptureFileError, MissingSampleRate
from tracecore.readers import read_capture

_VOLTS = [0.2, 0.3, 3.1, 3.2, 3.3, 0.1]


@pytest.mark.parametrize("blank", [";;", "; ;", '"";"";""'])
@pytest.mark.parametrize("first_row", [None, 4])
def test_a_row_of_delimiters_below_the_units_takes_no_unit_away(tmp_path, blank, first_row):
    rows = "".join(f"{i * 0.5:.3f};{v:.2f};{3 - v:.2f}\n".replace(".", ",") for i, v in enumerate(_VOLTS))
    path = put(tmp_path, f"Time;A;B\n(ms);(V);(mV)\n{blank}\n{rows}")
    capture = read_capture(path, first_row=first_row)
    assert capture.analog["A"].interval_ps == 500_000_000
    assert np.allclose(capture.analog["A"].volts, _VOLTS)
    assert np.allclose(capture.analog["B"].volts, [(3 - v) / 1000 for v in _VOLTS])
    assert capture.notes == ()


@pytest.mark.parametrize("head", ["Time;A\n(ms);logic\n;;\n", "Time [ms];A\n;\n"])
def test_the_same_above_logic(tmp_path, head):
    capture = read_capture(put(tmp_path, head + "0,5;0\n1,5;1\n9,5;0\n"))
    assert capture.digital["A"].times_ps.tolist() == [500_000_000, 1_500_000_000, 9_500_000_000]


def test_a_unit_that_is_not_there_is_told(tmp_path):
    for text in ("Time,A\n0.0,0.25\n0.1,1.5\n0.2,2.5\n", "0.5,0\n1.5,1\n1.75,0\n"):
        notes = read_capture(put(tmp_path, text)).notes
        assert any("taken for seconds (--time-unit)" in note for note in notes)
        assert read_capture(put(tmp_path, text), time_unit="s").notes == ()


@pytest.mark.parametrize("units", ["Sequence,Volt,,", "Sequence,,Volt,", "Sequence,,,", ",,,"])
@pytest.mark.parametrize("closed", ["", ",", ",,"])
def test_no_channel_is_lost_to_a_blank_unit(tmp_path, units, closed):
    rows = "".join(f"{i},{v},{3 - v:.2f},,{closed}\n" for i, v in enumerate(_VOLTS))
    text = f"X,CH1,CH2,Start,Increment{closed}\n{units}-1.2E-03,2.0E-06{closed}\n{rows}"
    capture = read_capture(put(tmp_path, text))
    assert np.allclose(capture.analog["CH1"].volts, _VOLTS)
    assert np.allclose(capture.analog["CH2"].volts, [3 - v for v in _VOLTS])
    assert (capture.start_ps, capture.analog["CH1"].interval_ps) == (-1_200_000_000, 2_000_000)


@pytest.mark.parametrize(
    "head",
    [
        "; Samplerate: 10 MHz\n; Sample rate: 20 MHz\n",
        "; Samplerate: 20 MHz\n; made by hand\n; Sample rate: 10 MHz\n",
    ],
)
def test_two_rates_above_rows_without_a_time_are_no_rate(tmp_path, head):
    path = put(tmp_path, head + "A,B\n0,1\n1,1\n0,0\n")
    with pytest.raises(MissingSampleRate, match=r"two sample rates: .* and .*--rate"):
        read_capture(path)
    assert read_capture(path, sample_rate=Fraction(10**7)).digital["A"].times_ps.tolist() == [0, 100_000, 200_000]


def test_two_rates_above_times_are_told_and_the_times_decide(tmp_path):
    head = "; Samplerate: 10 MHz\n; Sample rate: 20 MHz\nTime [ns],A\n"
    capture = read_capture(put(tmp_path, head + "0,0\n50,1\n100,0\n150,0\n"))
    assert capture.digital["A"].times_ps.tolist() == [0, 50_000, 100_000]
    assert any("two sample rates: 10 MHz and 20 MHz; the times decide" in note for note in capture.notes)


def test_an_interval_and_a_rate_that_disagree_are_told(tmp_path):
    head = "Sample Interval,1.0E-06\nSample Rate,2 MHz\nVertical Units,V\n"
    rows = "".join(f"{i},{v}\n" for i, v in enumerate(_VOLTS))
    with pytest.raises(CaptureFileError, match="two sample rates"):
        read_capture(put(tmp_path, head + "X,CH1\n" + rows))
    timed = "".join(f"{i}.0E-06,{v}\n" for i, v in enumerate(_VOLTS))
    capture = read_capture(put(tmp_path, head + "TIME,CH1\n" + timed))
    assert any("two sample rates: every 1.0E-06 s and 2 MHz" in note for note in capture.notes)
    assert capture.analog["CH1"].interval_ps == 10**6


def test_a_rate_stated_twice_alike_is_one(tmp_path):
    text = "; Samplerate: 10 MHz\n; Sample rate: 10000 kHz\nA,B\n0,1\n1,1\n0,0\n"
    assert read_capture(put(tmp_path, text)).notes == ()


@pytest.mark.parametrize("interval", ["4.0E909", "4.0E-909"])
def test_an_interval_that_no_instrument_has_is_none(tmp_path, interval):
    rows = "".join(f"{i}.0E-06,{v}\n" for i, v in enumerate(_VOLTS))
    capture = read_capture(put(tmp_path, f"Sample Interval,{interval}\nVertical Units,V\nTIME,CH1\n" + rows))
    assert capture.analog["CH1"].interval_ps == 1_000_000

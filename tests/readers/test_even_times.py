"""A step that is one printed digit off: rounding passes where it is rounding, a damaged digit is refused or told."""

from __future__ import annotations

import pytest

from tests.readers.test_readers import put
from tracecore.errors import MalformedCapture, MissingSampleRate
from tracecore.readers import read_capture


def volts(times: list[str]) -> str:
    return "Time (us),A (V)\n" + "".join(f"{time},{i % 7}.25\n" for i, time in enumerate(times))


@pytest.mark.parametrize("step", [0.01, 0.012, 0.015, 0.0101, 0.0199, 0.024, 0.5])
@pytest.mark.parametrize("count", [6, 400])
def test_rounded_times_are_even(tmp_path, step, count):
    capture = read_capture(put(tmp_path, volts([f"{i * step:.2f}" for i in range(count)])))
    assert abs(float(capture.analog["A"].interval_ps) - step * 1e6) <= 1e4 / (count - 1)


@pytest.mark.parametrize("step", [0.01, 0.02, 0.05, 0.5])
@pytest.mark.parametrize(("count", "at"), [(6, 3), (400, 3), (400, 200), (400, 398), (40_000, 32_768)])
@pytest.mark.parametrize("digit", [1, -1])
def test_a_time_one_digit_off_is_named(tmp_path, step, count, at, digit):
    times = [f"{i * step + (0.01 * digit if i == at else 0):.2f}" for i in range(count)]
    with pytest.raises(MalformedCapture, match="a step of") as caught:
        read_capture(put(tmp_path, volts(times)))
    # a short step leads to an early time, a long one away from it
    assert caught.value.line == at + 2 or (digit < 0 and caught.value.line == at + 3)
    assert caught.value.column == 1


def test_times_that_are_rounded_badly_all_along_are_taken(tmp_path):
    times = [f"{i * 0.02 + (0.01 if i % 3 == 0 else 0):.2f}" for i in range(300)]
    assert read_capture(put(tmp_path, volts(times))).analog["A"].interval_ps == pytest.approx(20_000, rel=1e-3)


def test_a_sample_one_digit_off_its_rate_is_told(tmp_path):
    rows = [f"{100 * i},{i % 2}" for i in range(50)]
    head = "; Samplerate: 10 MHz\nTime [ns],A\n"
    assert not read_capture(put(tmp_path, head + "\n".join([*rows, ""]))).notes
    rows[20] = "2001,0"
    capture = read_capture(put(tmp_path, head + "\n".join([*rows, ""])))
    assert "From line 23 on the times do not keep to the sample rate" in capture.notes[0]
    assert capture.digital["A"].times_ps[20] == 2_001_000


def test_an_interval_that_the_times_refute_is_told(tmp_path):
    text = "Sample Interval,{}\nVertical Units,V\nTIME,CH2\n0.0E-09,0.25\n4.0E-09,0.35\n8.0E-09,0.45\n"
    assert not read_capture(put(tmp_path, text.format("4.0E-09"))).notes
    capture = read_capture(put(tmp_path, text.format("5.0E-09")))
    assert "states a sample interval of 5 ns, but its times go in steps of 4 ns" in capture.notes[0]
    assert capture.analog["CH2"].interval_ps == 4000


@pytest.mark.parametrize("increment", ["2.0E-26", "2.0E+26", "2.0E-16", "2.0E706", "2.0E-706"])
def test_an_interval_out_of_reach_is_refused(tmp_path, increment):
    text = f"X,CH1,Start,Increment\nSequence,Volt,0,{increment}\n0,0.25,,\n1,0.35,,\n2,3.15,,\n"
    with pytest.raises(MalformedCapture, match="steps of 1 fs or more, and times below"):
        read_capture(put(tmp_path, text))


@pytest.mark.parametrize("rate", ["10e30 MHz", "1e-30 Hz"])
def test_a_rate_out_of_reach_is_no_rate(tmp_path, rate):
    with pytest.raises(MissingSampleRate):
        read_capture(put(tmp_path, f"; Samplerate: {rate}\nA,B\n0,1\n1,1\n"))

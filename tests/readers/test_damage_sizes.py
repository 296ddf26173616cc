"""Files of no row and of one, and files that last longer than a day."""

from __future__ import annotations

import numpy as np
import pytest

from tests.readers.damage_forms import FORMS, read
from tests.readers.samples import SAMPLES
from tests.readers.test_readers import put
from tracecore.errors import CaptureFileError, MalformedCapture
from tracecore.readers import read_capture

EACH = pytest.mark.parametrize("form", FORMS.values(), ids=FORMS.keys())
TWO_DAYS_S = 2 * 86_400
PS = 10**12
DUMP = SAMPLES["value change dump"].text


@EACH
def test_a_heading_without_rows_is_an_error(form):
    assert isinstance(read(form.head.encode()), CaptureFileError)


@EACH
def test_one_row_is_one_sample_or_an_error(form):
    got = read((form.head + form.rows.splitlines()[0] + "\n").encode())
    if not isinstance(got, CaptureFileError):
        assert {name.partition("[")[0] for name in got.channels} == set(form.names)
        assert all(len(trace.levels) == 1 for trace in got.digital.values())
        assert all(len(trace.volts) == 1 for trace in got.analog.values())
    elif form.kinds in ("ll", "txx"):
        pytest.fail(f"logic of one row is refused: {got}")


def test_a_dump_of_no_change_and_of_one(tmp_path):
    head = DUMP[: DUMP.index("#3\n")]
    with pytest.raises(CaptureFileError):
        read_capture(put(tmp_path, head))
    one = read_capture(put(tmp_path, head + "#3\n1!\n"))
    assert one.digital["crate.CLK"].levels.tolist() == [1]


@pytest.mark.parametrize(
    ("text", "last"),
    [
        (f"Time [ps],A\n0,0\n1,1\n{TWO_DAYS_S * PS},0\n{TWO_DAYS_S * PS + 1},1\n", TWO_DAYS_S * PS + 1),
        (f"Time [s],A\n0,0\n0.000000000001,1\n{TWO_DAYS_S}.000000000001,0\n", TWO_DAYS_S * PS + 1),
        (f"$timescale 1 ps $end\n$var wire 1 ! A $end\n$enddefinitions $end\n#0\n0!\n#{TWO_DAYS_S * PS + 1}\n1!\n",
         TWO_DAYS_S * PS + 1),
        ("; Samplerate: 0.00001 Hz\nA\n0\n1\n", 10**17),
        ("; Samplerate: 0.00001 Hz\nTime [s],A\n0,0\n100000,1\n200000,0\n", 2 * 10**17),
    ],
    ids=["changes in ps", "changes in s", "dump", "sampled", "sampled with time"],
)  # fmt: skip
def test_logic_longer_than_a_day_is_exact_to_a_picosecond(tmp_path, text, last):
    capture = read_capture(put(tmp_path, text))
    assert capture.digital["A"].times_ps.tolist()[-1] == last


@pytest.mark.parametrize(("unit", "volts", "fits"), [("V", "9e37", True), ("V", "1e39", False), ("kV", "9e37", False)])
def test_volts_that_no_capture_can_hold_are_named(tmp_path, unit, volts, fits):
    path = put(tmp_path, f"Time (us),A ({unit})\n0.00,1.5\n0.01,2.5\n0.02,{volts}\n0.03,1.25\n")
    if fits:
        assert read_capture(path).analog["A"].volts[2] == np.float32(volts)
        return
    with pytest.raises(MalformedCapture) as caught:
        read_capture(path)
    assert (caught.value.line, caught.value.column) == (4, 2)


@pytest.mark.parametrize(
    "text",
    [
        "Time (s),A (V)\n{0}.000000000001,0.25\n{0}.000000000002,0.35\n{0}.000000000003,0.45\n",
        "Sample Interval,1.0E-12\nVertical Units,V\nTIME,A\n"
        "{0}.000000000001,0.25\n{0}.000000000002,0.35\n{0}.000000000003,0.45\n",
        "X,A,Start,Increment\nSequence,Volt,{0}.000000000001,1.0E-12\n0,0.25,,\n1,0.35,,\n2,0.45,,\n",
        "t,A,EN\ns,V,logic\n{0}.000000000001,0.25,1\n{0}.000000000002,0.35,0\n{0}.000000000003,0.45,1\n",
    ],
    ids=["time column", "preamble", "index", "mixed"],
)
def test_volts_beyond_a_day_stand_at_their_picosecond(tmp_path, text):
    capture = read_capture(put(tmp_path, text.format(TWO_DAYS_S)))
    assert capture.start_ps == TWO_DAYS_S * PS + 1
    assert capture.analog["A"].interval_ps == 1

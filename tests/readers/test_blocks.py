"""Files of several blocks: what is hashed, and what is handed on from block to block."""

from __future__ import annotations

import hashlib
from fractions import Fraction

import numpy as np
import pytest

from tests.benchmarks.bench_import import cell_rows, decimals
from tracecore.capture import sample_time_ps
from tracecore.errors import MalformedCapture
from tracecore.readers import read_capture
from tracecore.readers.rows.digit_places import DigitPlaces

_ROWS, _CHANNELS = 250_000, 16
_HEAD = b"; Samplerate: 24 MHz\n"


@pytest.fixture(scope="module")
def levels():
    """Quiet at first, then busy, then quiet again, so that all ways of finding changes are taken."""
    rng = np.random.default_rng(4)
    flips = rng.random((_ROWS, _CHANNELS)) < 0.0002
    busy = slice(_ROWS // 3, 2 * _ROWS // 3)
    flips[busy] = rng.random((busy.stop - busy.start, _CHANNELS)) < 0.2
    return np.bitwise_xor.accumulate(flips.astype(np.uint8), axis=0)


def _agrees(capture, levels, times_ps):
    for channel, trace in enumerate(capture.digital.values()):
        cells = levels[:, channel]
        at = np.concatenate(([0], np.flatnonzero(cells[1:] != cells[:-1]) + 1))
        np.testing.assert_array_equal(trace.times_ps, times_ps[at])
        np.testing.assert_array_equal(trace.levels, cells[at])
    assert len(capture.digital) == levels.shape[1]


@pytest.mark.parametrize("channels", [16, 15, 1])
@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
def test_rows_of_many_blocks(tmp_path, levels, channels, end):
    body = cell_rows(levels[:, :channels]).tobytes().replace(b"\n", end)
    text = _HEAD.replace(b"\n", end) + body
    path = tmp_path / "rows.csv"
    path.write_bytes(text)
    capture = read_capture(path)
    assert capture.sha256 == hashlib.sha256(text).hexdigest()
    times = sample_time_ps(np.arange(_ROWS), Fraction(24_000_000))
    _agrees(capture, levels[:, :channels], times)


@pytest.mark.parametrize("head", [_HEAD, b""], ids=["at a rate", "by time"])
def test_timed_rows_of_many_blocks(tmp_path, levels, head):
    index = np.arange(_ROWS, dtype=np.int64)
    nanoseconds = (index * 1_000_000_000 + 12_000_000) // 24_000_000
    names = b"Time [s]," + ",".join(f"D{i}" for i in range(_CHANNELS)).encode() + b"\n"
    text = head + names + np.concatenate([decimals(nanoseconds), cell_rows(levels)], 1).tobytes()
    path = tmp_path / "rows.csv"
    path.write_bytes(text)
    capture = read_capture(path)
    assert capture.sha256 == hashlib.sha256(text).hexdigest()
    _agrees(capture, levels, sample_time_ps(index, Fraction(24_000_000)) if head else nanoseconds * 1000)


@pytest.mark.parametrize("share", [0.0005, 0.05, 0.5])
@pytest.mark.parametrize("timed", [False, True])
def test_hundreds_of_channels(tmp_path, share, timed):
    """Few changes of a channel in each block, which are moved together."""
    rng, rows, channels = np.random.default_rng(6), 2500, 700
    levels = np.bitwise_xor.accumulate((rng.random((rows, channels)) < share).astype(np.uint8), axis=0)
    nanoseconds = np.cumsum(rng.integers(5, 90, rows)) if timed else np.arange(rows) * 40
    names = ",".join(f"D{i}" for i in range(channels))
    body = cell_rows(levels)
    if timed:
        text = f"Time [s],{names}\n".encode() + np.concatenate([decimals(nanoseconds), body], 1).tobytes()
    else:
        text = f"; Samplerate: 25 MHz\n{names}\n".encode() + body.tobytes()
    path = tmp_path / "wide.csv"
    path.write_bytes(text)
    _agrees(read_capture(path), levels, nanoseconds * 1000)


@pytest.mark.parametrize("at", [70_000, 149_999])
def test_a_row_off_the_rate_is_named(tmp_path, levels, at):
    nanoseconds = np.arange(_ROWS, dtype=np.int64) * 40
    nanoseconds[at:] += 2
    text = b"; Samplerate: 25 MHz\nTime [s],A,B\n"
    text += np.concatenate([decimals(nanoseconds), cell_rows(levels[:, :2])], 1).tobytes()
    path = tmp_path / "rows.csv"
    path.write_bytes(text)
    capture = read_capture(path)
    assert any(f"From line {at + 3} on" in note for note in capture.notes)
    _agrees(capture, levels[:, :2], nanoseconds * 1000)


@pytest.mark.parametrize("seed", range(200))
def test_digits_are_the_number_they_spell(seed):
    rng = np.random.default_rng(seed)
    width = int(rng.integers(1, 40))
    count = int(rng.integers(1, min(18, width) + 1))
    places = list(range(count)) if rng.random() < 0.8 else sorted(rng.choice(width, count, replace=False).tolist())
    shift, mark = int(rng.integers(0, width - places[-1])), int(rng.integers(0, count + 1))
    places = [place + shift for place in places]
    if places[-1] + 1 < width:
        places[mark:] = [place + 1 for place in places[mark:]]
    rows = rng.integers(0, 256, (int(rng.integers(1, 6)), width), dtype=np.uint8)
    rows[:, places] = rng.integers(0, 10, (1 if seed % 3 else len(rows), count))
    rows[:, places[-1]] = rng.integers(0, 10, len(rows))
    wanted = [int("".join(str(int(row[place])) for place in places)) for row in rows]
    assert DigitPlaces(tuple(places)).numbers(rows).tolist() == wanted


@pytest.mark.parametrize("line", [2, 60_000])
def test_a_logic_cell_of_two_letters_in_a_row_as_long_is_named(tmp_path, line):
    rows = [f"{i * 4e-9:.9f},1.5000,{i % 2}\n" for i in range(60_000)]
    rows[line - 1] = rows[line - 1].replace(",1.5000,", ",1.500,0")
    path = tmp_path / "mixed.csv"
    path.write_text("Time (s),A (V),EN\n" + "".join(rows))
    with pytest.raises(MalformedCapture) as caught:
        read_capture(path)
    assert (caught.value.line, caught.value.column) == (line + 1, 3)

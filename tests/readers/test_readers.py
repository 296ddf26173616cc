"""Every reader over every sample, every kind of damage, and other programs' reading of the same file."""

from __future__ import annotations

import gzip
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from tests.readers.samples import SAMPLES, Sample
from tests.thinned import thinned
from tracecore.errors import CaptureFileError, MalformedCapture, MissingSampleRate, UnknownCapture
from tracecore.readers import READERS, read_capture
from tracecore.readers.source import Source

EACH = pytest.mark.parametrize("sample", SAMPLES.values(), ids=SAMPLES.keys())


def put(tmp_path: Path, data: bytes | str, name: str = "capture.csv") -> Path:
    path = tmp_path / name
    # written over itself, a file waits for the disk
    path.unlink(missing_ok=True)
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return path


def agree(capture, sample: Sample) -> None:
    assert capture.reader == sample.reader
    assert capture.resolution_ps == sample.resolution_ps
    assert set(capture.digital) == set(sample.levels)
    for channel, entries in sample.levels.items():
        trace = capture.digital[channel]
        assert list(zip(trace.times_ps.tolist(), trace.levels.tolist(), strict=True)) == entries
    assert set(capture.analog) == set(sample.volts)
    for channel, volts in sample.volts.items():
        assert capture.analog[channel].volts.tolist() == np.array(volts, np.float32).tolist()
    assert (capture.start_ps, capture.stop_ps) == (sample.start_ps, sample.stop_ps)
    assert len(capture.notes) == sample.notes
    assert len(capture.sha256) == 64


@EACH
@pytest.mark.parametrize(
    "dress",
    [
        lambda b: b,
        lambda b: b.replace(b"\n", b"\r\n"),
        lambda b: b"\xef\xbb\xbf" + b,
        gzip.compress,
        lambda b: b + b"\n\n" if b.endswith(b"\n") else b,
        lambda b: b.replace(b"; made by hand", b"; Pr\xfcffeld"),
    ],
    ids=["plain", "CR LF", "byte order mark", "gzip", "blank lines at the end", "Latin-1"],
)
def test_each_shape_reads_the_same_in_every_dress(tmp_path, sample, dress):
    agree(read_capture(put(tmp_path, dress(sample.text.encode()))), sample)


@EACH
def test_each_sample_is_claimed_by_one_reader_alone(tmp_path, sample):
    source = Source(put(tmp_path, sample.text))
    claims = [r.name for r in READERS if r.recognises(source.head())]
    source.close()
    assert len(claims) == 1


@EACH
def test_the_name_of_a_file_says_nothing(tmp_path, sample):
    agree(read_capture(put(tmp_path, sample.text, "x.dat")), sample)


def test_the_hash_is_that_of_the_file(tmp_path):
    import hashlib

    for data in (SAMPLES["changes"].text.encode(), gzip.compress(SAMPLES["changes"].text.encode())):
        path = put(tmp_path, data)
        assert read_capture(path).sha256 == hashlib.sha256(data).hexdigest()


@pytest.mark.parametrize(
    ("text", "kind", "line", "column", "says"),
    [
        ("", UnknownCapture, None, None, "an empty file"),
        (" \n\n", UnknownCapture, None, None, "an empty file"),
        ("\x00\x01\x02PK", UnknownCapture, None, None, "not text"),
        ("hello\nworld\n", UnknownCapture, None, None, "no rows in a layout that is known"),
        ("; Channels (2/2)\n0,1\n1,0\n", MissingSampleRate, None, None, "no sample rate"),
        ("; Samplerate: 1 MHz\n0,1\n1\n0,0\n", MalformedCapture, 3, None, "found 1 cell;"),
        ("; Samplerate: 1 MHz\n0,1\n1,0,1\n0,0\n", MalformedCapture, 3, None, "3 cells"),
        ("; Samplerate: 1 MHz\n0,1\n1,2\n0,0\n", MalformedCapture, 3, 2, "'2' in the column"),
        ("; Samplerate: 1 MHz\n0,1\n\n0,0\n", MalformedCapture, 3, None, "a blank line"),
        ("; Samplerate: 1 MHz\n0,1\r\n0,1\n0,0\r\n", MalformedCapture, 3, None, "another line end"),
        ("Time [s],A\n0.1,0\n0.3,1\n0.2,0\n", MalformedCapture, 4, 1, "a time before"),
        ("Time [s],A\n0.1,0\nnext,1\n0.2,0\n", MalformedCapture, 3, 1, "'next' in the column 'Time', taken for time"),
        ("Time,A\n5,0\n9,1\n", CaptureFileError, 2, 1, "without a unit"),
        ("Time [s],A\n0.5,0\n99999999.0,1\n", MalformedCapture, 3, 1, "a time below 10^18 ps"),
        ("Time [s],V1\n0.0,0.2\n0.1,nan\n0.2,3.1\n0.3,3.2\n", MalformedCapture, 3, 2, "'nan'"),
        ("Time [s],V1\n0.0,0.2\n0.1,\n0.2,3.1\n0.3,3.2\n", MalformedCapture, 3, 2, "''"),
        ("Time [s],V1\n0.00,0.2\n0.10,0.3\n0.50,3.1\n0.60,3.2\n", MalformedCapture, 4, 1, "a step of 0.4"),
    ],
)  # fmt: skip
def test_a_file_that_cannot_be_taken_says_where_and_what(tmp_path, text, kind, line, column, says):
    path = put(tmp_path, text)
    with pytest.raises(kind) as caught:
        read_capture(path)
    assert (caught.value.line, caught.value.column) == (line, column)
    assert says in str(caught.value)
    assert str(path) in str(caught.value)


def test_a_missing_file_and_a_folder_are_one_sentence(tmp_path):
    with pytest.raises(CaptureFileError, match="no readable file"):
        read_capture(tmp_path / "none.csv")
    with pytest.raises(CaptureFileError, match="a folder"):
        read_capture(tmp_path)


def test_a_cut_gzip_file_is_one_sentence(tmp_path):
    data = gzip.compress(("; Samplerate: 1 MHz\n" + "0,1\n1,0\n" * 50_000).encode())
    with pytest.raises(CaptureFileError, match="cut or damaged"):
        read_capture(put(tmp_path, data[: len(data) // 2]))


def test_a_given_rate_serves_rows_that_state_none(tmp_path):
    capture = read_capture(put(tmp_path, "0,1\n1,1\n"), sample_rate=Fraction(10**6))
    assert capture.digital["0"].times_ps.tolist() == [0, 10**6]


def test_times_of_a_sampled_capture_lie_on_their_lattice(tmp_path):
    """A 24 MHz instrument that prints nanoseconds: the step is found although 41.667 ns is never printed."""
    rng = np.random.default_rng(4)
    index = np.cumsum(rng.integers(1, 9, 400))
    rows = "".join(f"{round(i * 1000 / 24) / 1e9:.9f},{k % 2}\n" for k, i in enumerate(index))
    capture = read_capture(put(tmp_path, "Time [s],A\n" + rows))
    assert abs(capture.resolution_ps - 41_667) <= 10


def test_uneven_times_without_a_lattice_read_to_the_last_digit(tmp_path):
    rng = np.random.default_rng(4)
    times = np.cumsum(rng.integers(30, 900, 400))
    rows = "".join(f"{t / 1e9:.9f},{k % 2}\n" for k, t in enumerate(times))
    assert read_capture(put(tmp_path, "Time [s],A\n" + rows)).resolution_ps == 1000


@pytest.mark.parametrize("columns", thinned([64, 1, 8, 2]))
@pytest.mark.parametrize("timed", [False, True])
def test_logic_agrees_with_pandas_over_many_blocks(tmp_path, columns, timed):
    """pandas.read_csv as an outside reader of the same bytes."""
    import pandas as pd

    rng = np.random.default_rng(columns)
    count = 40_000 if columns > 8 else 160_000
    cells = (np.cumsum(rng.random((count, columns)) < 0.1, axis=0) % 2).astype(np.uint8)
    names = [f"C{i}" for i in range(columns)]
    frame = pd.DataFrame(cells, columns=names)
    if timed:
        frame.insert(0, "Time [ns]", np.cumsum(rng.integers(1, 2000, count)))
        text = frame.to_csv(index=False)
    else:
        text = "; Samplerate: 1 MHz\n" + frame.to_csv(index=False)
    capture = read_capture(put(tmp_path, text))
    times = frame["Time [ns]"].to_numpy() * 1000 if timed else np.arange(count) * 10**6
    for name in names:
        trace = capture.digital[name]
        assert (trace.level_at(times[:-1]) == frame[name].to_numpy()[:-1]).all()
        assert int((np.diff(frame[name]) != 0).sum()) == len(trace.times_ps) - 1


def test_times_whose_printed_width_changes_all_the_time_are_exact(tmp_path):
    rng = np.random.default_rng(0)
    times = np.cumsum(rng.integers(1, 4000, 50_000))
    rows = "".join(f"{t // 10**6}.{t % 10**6:06d}".rstrip("0").rstrip(".") + f",{k % 2}\n" for k, t in enumerate(times))
    capture = read_capture(put(tmp_path, "Time [s],A\n" + rows))
    assert (capture.digital["A"].times_ps == times * 10**6).all()


def test_volts_agree_with_pandas(tmp_path):
    import pandas as pd

    rng = np.random.default_rng(0)
    frame = pd.DataFrame({"Time (s)": np.round(np.arange(5000) * 4e-9 - 1e-6, 9), "A (V)": rng.normal(2, 1, 5000)})
    path = put(tmp_path, frame.to_csv(index=False))
    capture = read_capture(path)
    assert capture.analog["A"].interval_ps == 4000
    assert capture.analog["A"].start_ps == -1_000_000
    assert (capture.analog["A"].volts == pd.read_csv(path)["A (V)"].to_numpy().astype(np.float32)).all()

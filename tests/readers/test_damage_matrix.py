"""Small files cut at each byte and with each byte changed: a capture or one sentence, and no level made up."""

from __future__ import annotations

import numpy as np
import pytest

from tests.readers.samples import SAMPLES
from tests.readers.test_readers import put
from tracecore.capture import UNKNOWN, digital_trace
from tracecore.errors import CaptureFileError
from tracecore.readers import read_capture

EACH = pytest.mark.parametrize("sample", SAMPLES.values(), ids=SAMPLES.keys())


def read_or_refused(tmp_path, data: bytes):
    try:
        return read_capture(put(tmp_path, data))
    except CaptureFileError:
        return None


@EACH
def test_a_file_cut_anywhere_shows_no_level_that_was_not_there(tmp_path, sample):
    data, taken = sample.text.encode(), 0
    for size in range(1, len(data)):
        capture = read_or_refused(tmp_path, data[:size])
        if capture is None:
            continue
        taken += 1
        for name in set(capture.digital) & set(sample.levels):
            whole = digital_trace(*map(np.array, zip(*sample.levels[name], strict=True)), sample.stop_ps)
            trace = capture.digital[name]
            known = trace.levels != UNKNOWN
            if capture.reader == "value change dump":
                # a dump may change twice at one time, and be cut between the two
                known &= trace.times_ps < max(t.times_ps[-1] for t in capture.digital.values())
            assert (whole.level_at(trace.times_ps)[known] == trace.levels[known]).all(), (size, name)
    assert taken > 0


@EACH
def test_any_byte_changed_gives_a_capture_or_one_sentence(tmp_path, sample):
    data = sample.text.encode()
    for at in range(len(data)):
        read_or_refused(tmp_path, data[:at] + bytes([data[at] ^ 0x10]) + data[at + 1 :])

"""Value change dumps against other programs' writers, against a slow reading, and damaged."""

from __future__ import annotations

import io
import random
from unittest import mock

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from vcd import VCDWriter

from tests.readers.samples import SAMPLES
from tests.readers.test_readers import put
from tracecore.errors import MalformedCapture
from tracecore.readers import read_capture
from tracecore.readers.dump import reader as dump

_HEAD = (
    '$timescale 1 ns $end\n$var wire 1 ! A $end\n$var wire 4 " B $end\n$var real 64 # R $end\n$enddefinitions $end\n'
)


def entries(trace) -> list[tuple[int, int]]:
    return list(zip(trace.times_ps.tolist(), trace.levels.tolist(), strict=True))


@pytest.mark.parametrize(
    ("text", "line", "found"),
    [
        ("#0\n0!\n#7x\n1!\n", 8, "'#7x'"),
        ("#0\n0!\n#\n1!\n", 8, "'#'"),
        ("#5\n0!\n#4\n1!\n", 8, "a time before the one above"),
        ("#5\n0!\n2!\n", 8, "'2!'"),
        ("#5\n0!\n0?\n", 8, "'0?'"),
        ("#5\n0\n", 7, "'0'"),
        ("#5\n0!\n$dumpal\n", 8, "'$dumpal'"),
        ("#5\n$dumpvars\n$dumpvars\n", 8, "'$dumpvars'"),
        ("#5\n$end\n", 7, "'$end'"),
        ("#5\n0!\nb01 ?\n", 8, "'?'"),
        ('#5\n0!\nb012 "\n', 8, "'b012'"),
        ('#5\n0!\nb01010 "\n', 8, "'b01010'"),
        ('#5\n0!\nb "\n', 8, "'b'"),
        ('#5\n0!\nr1.5 "\n', 8, "'r1.5'"),
        ('#5\n0!\n0"\n', 8, "'0\"'"),
        ("#5\n0!\n$comment no end\n1!\n", 8, "$comment without an end"),
        ("#5\n0!\n$comment no end\n$dumpall\n1!\n$end\n", 8, "$comment without an end"),
        ("#9999999999999999\n0!\n", 6, "'#9999999999999999'"),
        ("0!\n", 7, "no time"),
    ],
)
def test_a_word_that_does_not_fit_names_its_line(tmp_path, text, line, found):
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, _HEAD + text))
    assert (caught.value.line, caught.value.found[: len(found)]) == (line, found)


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ("1 ns", "3 ns", 1),
        ("$timescale 1 ns $end", "$date now $end", 5),
        ("wire 1", "wirr 1", 2),
        ("wire 1", "wire 0", 2),
        ("! A", "! A $upscope", 2),
        ("! A $end", '" A $end', 3),
        ("real 64 # R $end", "real 64 # R", 5),
        ("$enddefinitions $end", "$enddefinitions", 9),
        ("! A", "!!!!!!!!! A", 2),
        ('" B ', '" B [7:0] ', 3),
    ],
)
def test_a_damaged_declaration_names_its_line(tmp_path, old, new, line):
    with pytest.raises(MalformedCapture) as caught:
        read_capture(put(tmp_path, _HEAD.replace(old, new) + "#0\n0!\n#5\n"))
    assert caught.value.line == line


def test_what_the_file_leaves_open_is_noted(tmp_path):
    capture = read_capture(put(tmp_path, _HEAD + '#0\n$dumpvars\n0!\nb1 "\n#10\n1!\n#2'))
    assert entries(capture.digital["A"]) == [(0, 0), (10_000, 1)]
    assert "Without logic and left out: R" in capture.notes[-1]
    assert "'#2' (line 12) may be cut short" in capture.notes[0]
    assert "ends within $dumpvars" in capture.notes[1]
    assert capture.stop_ps == 11_000


def test_short_vectors_are_filled_up_in_front(tmp_path):
    """The table of left extension in IEEE Std 1364-2005, 18.2.1 (from memory): 1 and 0 with 0, x with x, z with z."""
    capture = read_capture(put(tmp_path, _HEAD + '#0 b10 " #1 bX10 " #2 bZ0 " #3 b0X10 "\n'))
    at = np.arange(4) * 1000
    levels = np.stack([capture.digital[f"B[{i}]"].level_at(at) for i in (3, 2, 1, 0)], 1)
    assert levels.tolist() == [[0, 0, 1, 0], [2, 2, 1, 0], [2, 2, 2, 0], [0, 2, 1, 0]]
    assert entries(capture.digital["A"]) == [(0, 2)]


@pytest.mark.parametrize(
    ("scale", "unit_ps"), [("1 fs", 0.001), ("100fs", 0.1), ("10 ps", 10), ("1 us", 10**6), ("1 s", 10**12)]
)
def test_any_time_scale_becomes_picoseconds(tmp_path, scale, unit_ps):
    text = _HEAD.replace("1 ns", scale) + "#0 0! #2500 1! #5000\n"
    trace = read_capture(put(tmp_path, text)).digital["A"]
    wanted = round(2500 * unit_ps + 1e-9) if unit_ps >= 0.1 else 3
    assert entries(trace) == [(0, 0), (wanted, 1)]
    assert trace.stop_ps == round(5000 * unit_ps)


def test_a_day_at_one_picosecond(tmp_path):
    day = 86_400 * 10**12
    text = _HEAD.replace("1 ns", "1 ps") + f"#0 0! #{day} 1! #{day + 1} 0! #{day + 5}\n"
    trace = read_capture(put(tmp_path, text)).digital["A"]
    assert (trace.times_ps.tolist(), trace.stop_ps) == ([0, day, day + 1], day + 5)


def test_codes_that_look_like_values_and_commands(tmp_path):
    codes = ["b", "b1", "#", "$end", "1", "r", "x!"]
    head = "$timescale 1 ns $end\n" + "".join(
        f"$var wire 2 {c} N{i} $end\n" for i, c in enumerate(codes) if c != "$end"
    )
    text = (
        head + "$enddefinitions $end\n#0\n" + "".join(f"b{i % 4:02b} {c}\n" for i, c in enumerate(codes) if c != "$end")
    )
    capture = read_capture(put(tmp_path, text + "#9\n"))
    for i, code in enumerate(codes):
        if code != "$end":
            assert [int(capture.digital[f"N{i}[{b}]"].levels[0]) for b in (1, 0)] == [i % 4 >> 1, i % 4 & 1]


@pytest.mark.parametrize("block", [40, 300, 1 << 20])
def test_blocks_may_end_anywhere(tmp_path, block):
    sample = SAMPLES["value change dump"]
    text = sample.text.replace("0!\n", "0!\n$comment  a b1 \n !  $end\n")
    with mock.patch.object(dump, "BLOCK", block), mock.patch("tracecore.readers.source.HEAD_BYTES", 500):
        capture = read_capture(put(tmp_path, text))
    assert {name: entries(trace) for name, trace in capture.digital.items()} == sample.levels


def drawn(seed: int, channels: int, changes: int) -> tuple[str, dict[str, list[tuple[int, int]]]]:
    """A dump that pyvcd writes, with vectors, scopes and unknown values, and the entries of each bit."""
    rng = random.Random(seed)
    out = io.StringIO()
    wanted: dict[str, list[tuple[int, int]]] = {}
    with VCDWriter(out, timescale="10 ns", date="", init_timestamp=0) as writer:
        made = []
        for i in range(channels):
            size = rng.choice([1, 1, 1, 2, 5, 16])
            made.append((writer.register_var(f"crate.s{i % 3}", f"n{i}", "wire", size=size, init="x" * size), i, size))
            for bit in range(size - 1, -1, -1):
                wanted[f"crate.s{i % 3}.n{i}" + (f"[{bit}]" if size > 1 else "")] = [(0, 2)]
        now = 0
        for _ in range(changes):
            now += rng.choice([0, 0, 1, 1, 7, 30_000])
            variable, i, size = rng.choice(made)
            value = "".join(rng.choice("0101xz") for _ in range(size))
            writer.change(variable, now, value)
            for bit, letter in zip(range(size - 1, -1, -1), value, strict=True):
                own = wanted[f"crate.s{i % 3}.n{i}" + (f"[{bit}]" if size > 1 else "")]
                level = "01".find(letter) if letter in "01" else 2
                while own and own[-1][0] == now * 10_000:
                    own.pop()
                if not own or own[-1][1] != level:
                    own.append((now * 10_000, level))
    return out.getvalue(), wanted


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 120), st.integers(0, 400), st.sampled_from([64, 1 << 20]))
def test_dumps_that_pyvcd_writes(tmp_path_factory, seed, channels, changes, block):
    """pyvcd's writer as an outside reference."""
    text, wanted = drawn(seed, channels, changes)
    with mock.patch.object(dump, "BLOCK", block):
        capture = read_capture(put(tmp_path_factory.getbasetemp(), text, "drawn.vcd"))
    assert set(capture.digital) == set(wanted)
    for name, own in wanted.items():
        assert entries(capture.digital[name]) == own, name


def test_values_before_the_first_time_stand_at_the_start(tmp_path):
    text = '$timescale 1 ns $end\n$var wire 1 ! A $end\n$var wire 1 " B $end\n$enddefinitions $end\n'
    capture = read_capture(put(tmp_path, text + '$dumpvars\n0!\n1"\n$end\n#5\n1!\n#9\n0"\n'))
    assert (capture.start_ps, capture.stop_ps) == (0, 10_000)
    assert capture.digital["A"].times_ps.tolist() == [0, 5000]
    assert capture.digital["B"].levels.tolist() == [1, 0]

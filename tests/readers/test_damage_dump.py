"""Dumps drawn and damaged anywhere: what a slow reading finds, or an error that names its line."""

from __future__ import annotations

import os

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.readers.damage_forms import OF_THE_FILE, read
from tests.readers.dump_oracle import slow_dump_file
from tests.strategies import edited
from tracecore.errors import CaptureFileError

HEAD = (
    "$comment made up $end\n$timescale 10 ns $end\n$scope module crate $end\n$var wire 1 ! CLK $end\n"
    '$var reg 4 " D [3:0] $end\n$var wire 1 #a EN $end\n$var real 64 % TEMP $end\n$upscope $end\n'
    "$enddefinitions $end\n"
)
BODY = '#3\n$dumpvars\n0!\nb1x "\nx#a\nr1.5 %\n$end\n#13\n1!\nb101 "\n$comment b1 ! $end\n#33\n0!\nB1010 "\n1#a\n#40\n'


def dump_verdict(data: bytes, packed: bool = False) -> str:
    """``read`` or ``refused``; what is wrong where it is neither."""
    got = read(data, packed)
    if isinstance(got, CaptureFileError):
        return "refused" if got.line is not None or isinstance(got, OF_THE_FILE) else f"no line named: {got}"
    wanted = slow_dump_file(data)
    if wanted is None or not wanted.times:
        return "a word does not fit, and is read"
    if set(got.digital) != set(wanted.bits):
        return f"channels {[*got.digital]} for {[*wanted.bits]}"
    if got.start_ps != wanted.times[0] or got.stop_ps < wanted.times[-1]:
        return f"{got.start_ps} to {got.stop_ps} for {wanted.times}"
    for name, trace in got.digital.items():
        # what comes at the stop is behind the capture
        levels = {time: level for time, level in wanted.levels(name) if time < trace.stop_ps}
        levels = {got.start_ps: 2, **levels}
        found = trace.level_at(np.array([*levels], np.int64)).tolist()
        if found != [*levels.values()] or not set(trace.times_ps.tolist()) <= {*levels}:
            return f"{name}: {found} at {trace.times_ps.tolist()} for {levels}"
    return "read"


def damages(data: bytes, bits: tuple[int, ...], strays: bytes):
    for at in range(len(data)):
        yield f"cut at {at}", data[:at]
        yield from ((f"byte {at} xor {bit}", data[:at] + bytes([data[at] ^ bit]) + data[at + 1 :]) for bit in bits)
        yield f"byte {at} taken out", data[:at] + data[at + 1 :]
        yield from ((f"{stray} put in at {at}", data[:at] + bytes([stray]) + data[at:]) for stray in strays)


def wrong_dumps(bits: tuple[int, ...], strays: bytes) -> list[tuple[str, str]]:
    said = [(what, dump_verdict(data)) for what, data in damages((HEAD + BODY).encode(), bits, strays)]
    assert sum(result == "read" for _, result in said) > 100
    return [case for case in said if case[1] not in ("read", "refused")]


def test_every_damage_of_a_dump_is_the_right_data_or_an_error():
    assert dump_verdict((HEAD + BODY).encode()) == "read"
    assert wrong_dumps((1, 0x20), b"") == []


@pytest.mark.long
def test_each_damage_of_a_dump_is_the_right_data_or_an_error():
    assert wrong_dumps(tuple(1 << bit for bit in range(8)), b'01bxr#$!" \n') == []


@pytest.mark.parametrize(
    ("good", "bad", "line"),
    [
        ('b101 "', 'b10\x11 "', 19),
        ("#13\n", "#1\x13\n", 17),
        ("1!\n", "1%\n", 18),
        ('b101 "', "b101 %", 19),
        ("0!\n", "0\x08!\n", 12),
    ],
)  # fmt: skip
def test_what_passed_for_white_space_or_for_another_variable_is_refused(good, bad, line):
    got = read((HEAD + BODY.replace(good, bad, 1)).encode())
    assert isinstance(got, CaptureFileError)
    assert got.line == line


def test_changes_at_a_last_time_that_is_marked_twice_are_kept():
    got = read((HEAD + "#0\n0!\n#5\n1!\n#5\n").encode())
    assert got.digital["crate.CLK"].times_ps.tolist() == [0, 50_000]
    assert got.stop_ps == 60_000


@pytest.mark.parametrize("white", ["\n", " ", "\t", "\v", "\f"])
def test_white_space_of_every_kind_ends_the_last_word(white):
    got = read((HEAD + '#0\n0!\n#5\n1!\n#8\nb1 "' + white).encode())
    assert got.notes == read((HEAD + '#0\n0!\n#5\n1!\n#8\nb1 "\n').encode()).notes
    assert got.digital["crate.D[0]"].levels.tolist()[-1] == 1


@st.composite
def dumps(draw: st.DrawFn) -> bytes:
    random = draw(st.randoms(use_true_random=False))
    words, time = ["#0", "$dumpvars", "0!", 'bxx01 "', "z#a", "r0 %", "$end"], 0
    for _ in range(draw(st.integers(1, 30))):
        time += random.choice([0, 1, 7, 90, 12345])
        words.append(f"#{time}")
        for _ in range(random.choice([0, 1, 1, 3])):
            vector = "".join(random.choices("01xz", k=random.randint(1, 4)))
            words.append(
                random.choice([f'b{vector} "', f"{random.choice('01xz')}!", f"{random.choice('01')}#a", "r2 %"])
            )
    return draw(edited((HEAD + random.choice("\n ").join(words) + "\n").encode(), 0, 2))


def check(data: bytes, packed: bool) -> None:
    assert dump_verdict(data, packed) in ("read", "refused")


@settings(deadline=None, suppress_health_check=list(HealthCheck), max_examples=100)
@given(dumps(), st.booleans())
def test_dumps_drawn_and_damaged_are_the_right_data_or_an_error(data, packed):
    check(data, packed)


@pytest.mark.long
def test_dumps_drawn_and_damaged_are_the_right_data_or_an_error_many_times():
    examples = int(os.environ.get("TWINSLOT_LONG_EXAMPLES", "20000"))
    many = settings(deadline=None, suppress_health_check=list(HealthCheck), max_examples=examples)
    many(given(dumps(), st.booleans())(check))()

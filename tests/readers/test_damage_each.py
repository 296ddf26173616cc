"""Each shape with each kind of damage: what a slow reading of the damaged text finds, or an error that names a line."""

from __future__ import annotations

import gzip
import itertools
from dataclasses import replace

import pytest

from tests.readers.damage_forms import BENCH_FORMS, FORMS, Form, read, verdict
from tracecore.errors import CaptureFileError

EACH = pytest.mark.parametrize("form", FORMS.values(), ids=FORMS.keys())
EVERY = pytest.mark.parametrize("every", [3, pytest.param(1, marks=pytest.mark.long)])
"""One damage of so many is tried: every third, so that both flips take turns; with the long tests all of them."""


def damages(form: Form):
    """(0 for the first row, else 1; what; data): cuts, two flips of each byte, cells dropped and put in."""
    data, first = form.data, len(form.head)
    second = data.index(b"\n", first) + 1
    yield from ((0 if at <= second else 1, f"cut at {at}", data[:at]) for at in range(first + 1, len(data)))
    for at, bit in itertools.product(range(first, len(data)), (1, 0x20)):
        yield int(at >= second), f"byte {at} xor {bit}", data[:at] + bytes([data[at] ^ bit]) + data[at + 1 :]
    lines = form.rows.splitlines()
    for i, line in enumerate(lines):
        cells = line.split(",")
        for k in range(len(cells)):
            for what, other in (("dropped", cells[:k] + cells[k + 1 :]), ("put in", [*cells[:k], "0", *cells[k:]])):
                rows = "\n".join([*lines[:i], ",".join(other), *lines[i + 1 :], ""])
                yield min(i, 1), f"cell {k + 1} of row {i + 1} {what}", (form.head + rows).encode()


def wrong_cases(form: Form, row: int, every: int = 1) -> list[tuple[str, bytes, str]]:
    own = [(what, data) for at, what, data in damages(form) if at == row]
    said = [(what, data, verdict(form, data)) for what, data in own[::every]]
    assert sum(result == "read" for *_, result in said) > 0
    return [case for case in said if case[2] not in ("read", "refused")]


@EVERY
@EACH
def test_every_damage_behind_the_first_row_is_the_right_data_or_an_error(form, every):
    assert verdict(form, form.data) == "read"
    assert wrong_cases(form, 1, every) == []


@EVERY
@EACH
def test_every_damage_of_the_first_row_is_the_right_data_or_an_error(form, every):
    assert wrong_cases(form, 0, every) == []


@pytest.mark.long
@pytest.mark.parametrize("form", BENCH_FORMS.values(), ids=BENCH_FORMS.keys())
def test_every_damage_of_what_the_plan_of_columns_reads_is_the_right_data_or_an_error(form):
    assert verdict(form, form.data) == "read"
    assert wrong_cases(form, 1) + wrong_cases(form, 0) == []


@EACH
def test_a_heading_twice_is_read_once_or_refused(form):
    assert verdict(form, (form.head + form.head + form.rows).encode(), False) in ("read", "refused") or (
        # the oracle counts the lines of one heading
        verdict(replace(form, head=form.head * 2), (form.head * 2 + form.rows).encode()) in ("read", "refused")
    )


@EVERY
@EACH
def test_a_packed_file_with_any_byte_changed_or_cut_is_the_same_data_or_refused(form, every):
    packed = gzip.compress(form.data, mtime=0)
    whole = read(form.data)
    for at in range(0, len(packed), every):
        for data in (packed[:at], packed[:at] + bytes([packed[at] ^ 1]) + packed[at + 1 :]):
            got = read(data)
            assert isinstance(got, CaptureFileError) or same(got, whole), at


def same(one, other) -> bool:
    """Equal traces; the files themselves differ."""
    if [*one.digital, *one.analog] != [*other.digital, *other.analog]:
        return False
    levels = all(
        a.stop_ps == b.stop_ps and (a.times_ps == b.times_ps).all() and (a.levels == b.levels).all()
        for a, b in zip(one.digital.values(), other.digital.values(), strict=True)
    )
    return levels and all(
        (a.start_ps, a.interval_ps) == (b.start_ps, b.interval_ps) and (a.volts == b.volts).all()
        for a, b in zip(one.analog.values(), other.analog.values(), strict=True)
    )


def test_a_stray_quote_hides_no_row():
    form = FORMS["closed, in mV"]
    assert verdict(form, form.data.replace(b"210,\n", b'210,"')) == "refused"

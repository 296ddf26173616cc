"""Each heading with each byte changed, taken out or put in: what the values in it still say, or an error."""

from __future__ import annotations

import pytest

from tests.readers.damage_forms import FORMS, Form
from tests.readers.damage_heads import head_verdict

EACH = pytest.mark.parametrize("form", FORMS.values(), ids=FORMS.keys())


def damaged_heads(form: Form, bits: tuple[int, ...], strays: bytes, every: int = 1):
    head = form.head.encode()
    for at in range(0, len(head), every):
        before, behind = head[:at], head[at + 1 :]
        yield from ((f"byte {at} xor {bit}", before + bytes([head[at] ^ bit]) + behind) for bit in bits)
        yield f"byte {at} taken out", before + behind
        yield from ((f"{stray} put in at {at}", before + bytes([stray]) + head[at:]) for stray in strays)


def wrong_heads(form: Form, bits: tuple[int, ...], strays: bytes, every: int = 1) -> list[tuple[str, bytes, str]]:
    rows = form.rows.encode()
    said = [(what, head, head_verdict(form, head, rows)) for what, head in damaged_heads(form, bits, strays, every)]
    assert sum(result == "read" for *_, result in said) > 0
    assert sum(result == "refused" for *_, result in said) > 0
    return [case for case in said if case[2] not in ("read", "refused")]


@EACH
def test_a_damaged_heading_is_read_as_it_says_or_refused(form):
    assert head_verdict(form, form.head.encode(), form.rows.encode()) == "read"
    # every fourth byte; the long test takes each, with every bit and many more strays
    assert wrong_heads(form, (1, 0x20), b",\n", 4) == []


@pytest.mark.long
@EACH
def test_each_damage_of_a_heading_is_read_as_it_says_or_refused(form):
    assert wrong_heads(form, tuple(1 << bit for bit in range(8)), b'01X27,; \n\r.-+e9"()[]#\tmnV') == []


def test_the_verdict_finds_what_is_taken_wrongly():
    form = FORMS["closed, in mV"]
    decimals = form.rows.replace(",\n", ".0,\n").encode()
    assert head_verdict(form, b"Time (us),Ch A\n", decimals) not in ("read", "refused")
    form = FORMS["changes"]
    assert head_verdict(form, form.head.encode() + b"1,1,0\n", form.rows.encode()) not in ("read", "refused")

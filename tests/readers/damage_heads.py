"""The verdict on a file with a damaged heading: what the values that still stand in it say, or an error."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from tests.readers.damage_forms import OF_THE_FILE, Form, compared, read
from tests.readers.oracle import slow_table
from tracecore.errors import CaptureFileError

_TIMES_PS = {
    **dict.fromkeys(("s", "sec", "second", "seconds"), 10**12),
    "ms": 10**9,
    "us": 10**6,
    "µs": 10**6,
    "μs": 10**6,
    "ns": 1000,
    "ps": 1,
    "fs": Fraction(1, 1000),
}
_VOLTS = {
    **dict.fromkeys(("v", "volt", "volts"), 1.0),
    **dict.fromkeys(("mv", "millivolt", "millivolts"), 1e-3),
    "uv": 1e-6,
    "µv": 1e-6,
    "μv": 1e-6,
    "kv": 1e3,
}
_RATE = re.compile(r"\s*([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?\s*([kKmMgG]?)(?:hz|s/s)\s*", re.IGNORECASE)
_NUMBER = re.compile(r"\s*[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?\s*")
_RANGE = re.compile(r"\s*\[\s*([0-9]{1,3})\s*:\s*([0-9]{1,3})\s*\]\s*")


def head_verdict(form: Form, head: bytes, rows: bytes, packed: bool = False) -> str:
    """``read`` or ``refused``; what is wrong where it is neither. ``head`` stands in place of the form's own."""
    got = read(head + rows, packed)
    if isinstance(got, CaptureFileError):
        return "refused" if got.line is not None or isinstance(got, OF_THE_FILE) else f"no line named: {got}"
    said = []
    for tokens in itertools.product(*_tokens_now(form, head)):
        meant = _meant(form, tokens)
        if meant is None:
            said.append(f"{tokens} is no value, and is read")
            continue
        wanted = slow_table(rows, form.kinds, 1, form.prefix, meant.bits)
        said.append("a row does not fit, and is read" if wanted.bad_line else compared(meant, got, wanted.rows))
        if said[-1] == "read":
            return "read"
    return "; ".join(said)


def _tokens_now(form: Form, head: bytes) -> Iterator[list[str]]:
    """What each token may be now; two texts where the damage stands at its edge."""
    old = form.head.encode()
    same = next((i for i, (a, b) in enumerate(zip(old, head, strict=False)) if a != b), min(len(old), len(head)))
    most = min(len(old), len(head)) - same
    tail = next((i for i in range(most) if old[-1 - i] != head[-1 - i]), most)
    end = 0
    for _, text in form.tokens:
        before, _, text = text.rpartition("|")
        start = form.head.index(before + text, end) + len(before)
        end = start + len(text)
        now = head[start : len(head) - (len(old) - end)].decode("latin-1")
        if end < same or start > len(old) - tail:
            yield [text]
        elif end == same or start == len(old) - tail:
            # a letter changed in front of it may belong to it
            yield [text, now, head[same : len(head) - (len(old) - end)].decode("latin-1")]
        else:
            yield [now]


def _meant(form: Form, tokens: tuple[str, ...]) -> Form | None:
    """The form with the values of its tokens; None where one is none."""
    volts = []
    for (kind, old), text in zip(form.tokens, tokens, strict=True):
        word = text.strip().lower()
        if kind == "t" and word in _TIMES_PS:
            form = replace(form, unit_ps=_TIMES_PS[word])
        elif kind in "vV" and (word in _VOLTS or (old.rpartition("|")[2] == "V" and (not word or word.isdecimal()))):
            # without its one letter, or with a number, a name has no unit, which is V
            volts.append(_VOLTS.get(word, 1.0))
        elif kind == "r" and (match := _RATE.fullmatch(text)) and (rate := _rate(match)):
            form = replace(form, unit_ps=10**12 / rate)
        elif kind == "i" and _NUMBER.fullmatch(text) and Fraction(word) > 0:
            form = replace(form, unit_ps=Fraction(word) * 10**12)
        elif kind == "s" and _NUMBER.fullmatch(text):
            form = replace(form, start_ps=Fraction(word) * 10**12)
        elif kind == "b":
            match = _RANGE.fullmatch(text)
            form = replace(form, bits=abs(int(match[1]) - int(match[2])) + 1 if match else 0)
        else:
            return None
    return replace(form, scales=tuple(volts))


def _rate(match: re.Match[str]) -> Fraction:
    return Fraction(match[1] + (match[2] or "")) * {"": 1, "k": 10**3, "m": 10**6, "g": 10**9}[match[3].lower()]

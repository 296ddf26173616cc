"""A pin as slot-pin, written so that it can be typed: ``7-B04``, or ``U7-3`` for a leg of a chip."""

from __future__ import annotations

import re
from functools import lru_cache

_PIN = re.compile(r"\s*([A-Za-z0-9][A-Za-z0-9_.]*)\s*-\s*([A-Za-z]{0,2})(\d{1,3})\s*")
_RUN = re.compile(r"\d+|\D+")


@lru_cache(maxsize=1 << 16)
def pin_name(text: str) -> str:
    """The pin in its one spelling. Raises ValueError where the text is no pin.

    Rows are capitals, and behind a row stand two digits at least, so that each pin has one spelling.

    >>> pin_name("7-b4"), pin_name("u7-3")
    ('7-B04', 'U7-3')
    """
    match = _PIN.fullmatch(text)
    if match is None:
        raise ValueError(f"{text!r} is no pin such as 7-B04")
    slot, row, number = match[1].upper(), match[2].upper(), int(match[3])
    return f"{slot}-{row}{number:02d}" if row else f"{slot}-{number}"


def slot_of(pin: str) -> str:
    """The slot, or the chip, that a pin is on.

    >>> slot_of("7-B04")
    '7'
    """
    return pin.rpartition("-")[0]


@lru_cache(maxsize=1 << 16)
def pin_order(pin: str) -> tuple[tuple[int, int, str], ...]:
    """Sorts pins as a person counts them: slot 7 before slot 12.

    >>> sorted(["12-A01", "7-B04", "7-A12"], key=pin_order)
    ['7-A12', '7-B04', '12-A01']
    """
    return tuple((0, int(run), "") if run.isdigit() else (1, 0, run) for run in _RUN.findall(pin))


@lru_cache(maxsize=1 << 16)
def pair_of(start: str, end: str) -> tuple[str, str]:
    """Two pins in the order in which a person counts them; a reading has no direction."""
    return (start, end) if pin_order(start) <= pin_order(end) else (end, start)

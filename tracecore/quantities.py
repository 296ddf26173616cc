"""Text to exact picoseconds, hertz and volts, and back.

Numbers are read as exact fractions: 24 MHz has a period of 125000/3 ps, and no rounding happens
before the last step. That is why the general quantity packages, which compute in floats, are not
used here.
"""

from __future__ import annotations

import re
from fractions import Fraction
from math import isfinite

PS_PER_S = 10**12

_TIME_UNITS_PS: dict[str, Fraction] = {
    "s": Fraction(10**12),
    "sec": Fraction(10**12),
    "second": Fraction(10**12),
    "seconds": Fraction(10**12),
    "ms": Fraction(10**9),
    "us": Fraction(10**6),
    "µs": Fraction(10**6),
    "μs": Fraction(10**6),
    "ns": Fraction(1000),
    "ps": Fraction(1),
    "fs": Fraction(1, 1000),
}
_RATE_UNITS_HZ: dict[str, Fraction] = {
    "": Fraction(1),
    "hz": Fraction(1),
    "khz": Fraction(1000),
    "mhz": Fraction(10**6),
    "ghz": Fraction(10**9),
    "s/s": Fraction(1),
    "ks/s": Fraction(1000),
    "ms/s": Fraction(10**6),
    "gs/s": Fraction(10**9),
}
_QUANTITY = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?)\s*(\S*)\s*")

NARROW_SPACE = "\u202f"
MINUS = "\u2212"


def time_unit_ps(unit: str) -> Fraction | None:
    """Picoseconds in one ``unit`` of time, or None where the word is no unit of time.

    >>> time_unit_ps("us")
    Fraction(1000000, 1)
    """
    return _TIME_UNITS_PS.get(unit.strip().lower())


def parse_time_ps(text: str) -> Fraction:
    """Exact picoseconds of a text such as ``"20.5 ns"``.

    Raises ValueError where the text is no time with a unit.

    >>> parse_time_ps("20.5 ns")
    Fraction(20500, 1)
    """
    match = _QUANTITY.fullmatch(text)
    unit = time_unit_ps(match[2]) if match else None
    if match is None or unit is None:
        raise ValueError(f"{text!r} is not a time with a unit such as 20 ns")
    return Fraction(match[1]) * unit


def parse_rate_hz(text: str) -> Fraction:
    """Exact hertz of a text such as ``"24 MHz"`` or ``"2.5 MS/s"``.

    Raises ValueError where the text is no rate above zero.

    >>> parse_rate_hz("24 MHz")
    Fraction(24000000, 1)
    """
    match = _QUANTITY.fullmatch(text)
    unit = _RATE_UNITS_HZ.get(match[2].lower()) if match else None
    if match is None or unit is None or Fraction(match[1]) <= 0:
        raise ValueError(f"{text!r} is not a rate such as 24 MHz")
    return Fraction(match[1]) * unit


def rate_of(given: Fraction | float | str) -> Fraction:
    """Exact hertz of a number of hertz, or of a text; ValueError where it is no rate above zero.

    >>> rate_of("24 MHz") == rate_of(24e6) == rate_of(24_000_000)
    True
    """
    if isinstance(given, str):
        return parse_rate_hz(given)
    if isinstance(given, bool) or not isfinite(given) or given <= 0:
        raise ValueError(f"{given!r} is not a rate above zero in hertz")
    return Fraction(given)


def parse_volts(text: str) -> float:
    """Volts of a text such as ``"4.9 V"``, ``"4900 mV"`` or ``"4.9"``.

    Raises ValueError where the text is none.

    >>> parse_volts("4900 mV")
    4.9
    """
    match = re.fullmatch(r"\s*([-+]?\d+(?:[.,]\d+)?|[-+]?[.,]\d+)\s*(m?)V?\s*", text, re.IGNORECASE)
    if match is None:
        raise ValueError(f"{text!r} is not a voltage such as 4.9 V")
    return float(match[1].replace(",", ".")) / (1000 if match[2] else 1)


def group_digits(number: int) -> str:
    """A whole number grouped by threes with a narrow no-break space and a true minus.

    >>> group_digits(-128413) == "\u2212128\u202f413"
    True
    """
    text = f"{abs(number):,}".replace(",", NARROW_SPACE)
    return (MINUS if number < 0 else "") + text


def format_time(time_ps: int | Fraction, *, digits: int = 4, sign: bool = False) -> str:
    """A time in the unit that suits it, with ``digits`` significant digits.

    >>> format_time(83333)
    '83.33 ns'
    >>> format_time(170_000, sign=True)
    '+170 ns'
    """
    return _format_si(float(time_ps) / PS_PER_S, "s", digits, sign)


def format_instant(time_ps: int | Fraction) -> str:
    """When something was, since the start of a capture: seven digits, so that one instant reads the same everywhere.

    >>> format_instant(417_898_496)
    '417.8985 µs'
    """
    return format_time(time_ps, digits=7)


def format_rate(rate_hz: int | float | Fraction, *, digits: int = 4) -> str:
    """A rate in the unit that suits it.

    >>> format_rate(24_000_000)
    '24 MHz'
    """
    return _format_si(float(rate_hz), "Hz", digits, False)


def format_volts(volts: float) -> str:
    """Volts to a hundredth, with a true minus.

    >>> format_volts(1.1)
    '1.10 V'
    """
    return f"{volts:.2f} V".replace("-", MINUS)


def percent(share: float, *, digits: int = 1) -> str:
    """A share from 0 to 1 as a percentage to ``digits`` decimals, never rounded up to 100, nor what is there to 0.

    >>> percent(0.5), percent(0.4167), percent(0.9999), percent(0.00063, digits=2), percent(0.0004)
    ('50 %', '41.7 %', '99.9 %', '0.06 %', '< 0.1 %')
    """
    text = f"{share * 100:.{digits}f}"
    if float(text) == 0 and share > 0:
        return f"< {10**-digits:.{digits}f} %"
    if float(text) == 100 and share < 1:
        text = f"{100 - 10**-digits:.{digits}f}"
    return f"{text.rstrip('0').rstrip('.') if '.' in text else text} %"


def _format_si(value: float, unit: str, digits: int, sign: bool) -> str:
    prefixes = (("G", 1e9), ("M", 1e6), ("k", 1e3), ("", 1.0), ("m", 1e-3), ("µ", 1e-6), ("n", 1e-9), ("p", 1e-12))
    size = abs(value)
    if size == 0:
        return f"0 {'ns' if unit == 's' else unit}"
    prefix, scale = prefixes[-1]
    for prefix, scale in prefixes:  # noqa: B007
        # the next smaller prefix would print 1000 where rounding carries
        if float(f"{size / scale:.{digits}g}") >= 1 and not (unit == "s" and scale > 1):
            break
    scaled = float(f"{size / scale:.{digits}g}")
    text = f"{scaled:.10f}".rstrip("0").rstrip(".")
    head = MINUS if value < 0 else ("+" if sign else "")
    return f"{head}{text} {prefix}{unit}"

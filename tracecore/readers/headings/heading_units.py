"""Units in a heading: in brackets behind a name, in a row of their own, in a preamble; unknown ones are told."""

from __future__ import annotations

import re
from fractions import Fraction

from tracecore.quantities import time_unit_ps
from tracecore.readers.headings.names import TIME_HEADING, TYPES
from tracecore.readers.recognise.first_row import edits

VOLT_UNITS = {
    "v": 1.0,
    "volt": 1.0,
    "volts": 1.0,
    "mv": 1e-3,
    "millivolt": 1e-3,
    "millivolts": 1e-3,
    "uv": 1e-6,
    "µv": 1e-6,
    "μv": 1e-6,
    "kv": 1e3,
}
COUNTS = frozenset(("count", "counts", "lsb", "adc", "code", "codes", "raw"))
RADIXES = frozenset(("hex", "hexadecimal", "bin", "binary", "oct", "octal", "dec", "decimal"))
KNOWN_VOLTS = "V, mV, uV or kV"
_UNIT = re.compile(r"[\[(]\s*([A-Za-zµμ]+)\s*[\])]")
_IN_BRACKETS = re.compile(r"[\[(]([^\[\]()]*)[\])]\s*")
_BRACKETS = "[](){}"
_PLAIN = re.compile(r"[A-Za-z#][\w .#-]*")
_BEHIND = re.compile(r"(.*?)\s*[\[(]\s*([A-Za-zµμ]+)\s*[\])]\s*")
_LAST_WORD = re.compile(r".*[ /_,.-]([a-zµμ]{2,7})", re.IGNORECASE)


def is_unit(text: str) -> bool:
    """A unit of time or volts, or a type of logic, in brackets or not."""
    word = text.strip("()[]").strip().lower()
    return word in VOLT_UNITS or word in TYPES or time_unit_ps(word) is not None


def is_counts(text: str) -> bool:
    """Does a heading, or the unit in it, say counts of a converter?

    >>> is_counts("CH1 (counts)"), is_counts("LSB"), is_counts("COUNT3")
    (True, True, False)
    """
    return bracketed(text)[1].strip("()[] ").lower() in COUNTS


def bracketed(text: str) -> tuple[str, str]:
    """The text in front of a unit in brackets, and the unit; where there is none, the whole text twice.

    >>> bracketed("Ch A (mV)"), bracketed("Volt")
    (('Ch A', 'mV'), ('Volt', 'Volt'))
    """
    match = _UNIT.search(text)
    return (text[: match.start()].strip(), match[1]) if match else (text, text)


def time_unit_in(text: str) -> tuple[Fraction | None, str]:
    """Picoseconds of the unit of time that a heading names, and the heading where it means one that is not known.

    A plain word such as ``Time`` names none, and means none.

    >>> time_unit_in("Time (ns)"), time_unit_in("Time"), time_unit_in("Time (ts)"), time_unit_in("Time *us)")
    ((Fraction(1000, 1), ''), (None, ''), (None, 'Time (ts)'), (None, 'Time *us)'))
    """
    if match := list(_IN_BRACKETS.finditer(text)):
        unit = None if any(b in _IN_BRACKETS.sub("", text) for b in _BRACKETS) else time_unit_ps(match[-1][1])
        return unit, "" if unit is not None else text
    word = (match_last[1] if (match_last := _LAST_WORD.fullmatch(text)) else text).strip()
    unit = time_unit_ps(word)
    if unit is not None or not text:
        return unit, ""
    timed = TIME_HEADING.fullmatch(text)
    if timed and (unit := time_unit_ps(timed[1] or "")) is not None:
        return unit, ""
    plain = bool(_PLAIN.fullmatch(text)) and not (timed and timed[1]) and not (len(text) == 2 and _near_time(text))
    return None, "" if plain else text


def unit_of_times(title: list[str], unit_row: list[str]) -> tuple[Fraction | None, str]:
    """The same for the heading of the times and what stands below it."""
    unit, unknown = time_unit_in(title[0]) if title else (None, "")
    below = unit_row[0].strip("()[]") if unit_row else ""
    if unit is not None or not below:
        return unit, unknown
    unit = time_unit_ps(below)
    return unit, "" if unit is not None else unknown or unit_row[0]


def _near_time(word: str) -> bool:
    return any(edits(word.lower(), unit) < 2 for unit in ("ms", "us", "ns", "ps", "fs"))


def unknown_volts(text: str) -> str:
    """What is wrong with the unit in the heading of a column of volts, in words; empty where nothing is.

    Words in brackets need not be units; one that a letter makes a unit of volts is a damaged unit, or another unit.

    >>> unknown_volts("Ch A (lV)"), unknown_volts("Ch A (mV"), unknown_volts("Ch A (north)"), unknown_volts("A [mV]")
    ("the unit 'lV'", "'Ch A (mV' with a bracket that has no pair", '', '')
    """
    if sum(text.count(b) for b in _BRACKETS[::2]) != sum(text.count(b) for b in _BRACKETS[1::2]):
        return f"{text[:40]!r} with a bracket that has no pair"
    match = list(_IN_BRACKETS.finditer(text))
    word = match[-1][1].strip().lower() if match else ""
    sign = len(word) == 1 and not word.isalnum()
    if not (sign or any(map(str.isalpha, word))) or word in VOLT_UNITS or word in TYPES:
        return ""
    near = any(edits(word, unit) < 2 for unit in VOLT_UNITS if len(word) > 1 or len(unit) == 1)
    return f"the unit {match[-1][1].strip()[:40]!r}" if near else ""


def is_unit_word(cell: str) -> bool:
    """Nothing, or a unit, a type, a radix or counts: a word that stands below a name."""
    word = cell.strip("()[] ").lower()
    known = word in VOLT_UNITS or word in TYPES or word in RADIXES or word in COUNTS
    return not word or known or time_unit_ps(word) is not None


def plain_name(title: str) -> str:
    """The title without a unit behind it.

    >>> plain_name("CH1 (mV)"), plain_name("D[7:0] (hex)"), plain_name("Q (spare)")
    ('CH1', 'D[7:0]', 'Q (spare)')
    """
    match = _BEHIND.fullmatch(title)
    return match[1] if match and match[1] and is_unit_word(match[2]) else title


def unit_of(name: str, below: str) -> str:
    """The unit in the row of units, or in brackets behind the name, or the name itself where it is one."""
    if below.strip("()[] "):
        return below.strip("()[] ")
    match = _BEHIND.fullmatch(name)
    return match[2] if match else name.strip("()[] ")

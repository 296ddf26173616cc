"""Names above columns and the units beside or below them: known ones are taken, others told, none guessed.

Time;Ch A (mV);EN         a unit in brackets behind a name,
us;;logic                 or a row of units, types or radixes below the names
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence
from fractions import Fraction

from tracecore.csv_cells import unguarded
from tracecore.quantities import time_unit_ps
from tracecore.readers.recognise.cells import NUMBER, edits, filled

TIME_HEADING = re.compile(r"(?:time|t|timestamp)(?:[\s\[(/]+([a-zµμ]*)\s*[\])]?)?", re.IGNORECASE)
TIME_WORD = re.compile(r"(?:time|t|timestamp|seconds?|x-axis)\b.*", re.IGNORECASE)
INDEX_WORD = re.compile(r"(?:x|n|no\.?|index|point|sequence|samples?)(?:\W.*)?", re.IGNORECASE)
TYPES = frozenset(("logic", "digital", "bit", "bool", "boolean"))
COUNTS = frozenset(("count", "counts", "lsb", "adc", "code", "codes", "raw"))
RADIXES = frozenset(("hex", "hexadecimal", "bin", "binary", "oct", "octal", "dec", "decimal"))
_FACTORS = {1.0: "v volt volts", 1e-3: "mv millivolt millivolts", 1e-6: "uv µv μv", 1e3: "kv"}
VOLT_UNITS = {unit: factor for factor, units in _FACTORS.items() for unit in units.split()}
KNOWN_VOLTS = "V, mV, uV or kV"
_BRACKETS = "()[]"
_WITH_UNIT = re.compile(r"(.*)[\[(]\s*([A-Za-zµμ]+)\s*[\])](.*)")
_IN_BRACKETS = re.compile(r"[\[(]([^\[\]()]*)[\])]\s*")
_PLAIN = re.compile(r"[A-Za-z#][\w .#-]*")
_LONG_UNIT = re.compile(r"(?:mi[ck]ro|milli|nano|pi[ck]o)se[ck]|[µμ]s\b", re.IGNORECASE)
_LAST_WORD = re.compile(r".*[ /_,.-]([a-zµμ]{2,7})", re.IGNORECASE)


# ---- one title


def bare(text: str) -> str:
    """The text without brackets around it, in small letters."""
    return text.strip(_BRACKETS + " ").lower()


def split_title(title: str) -> tuple[str, str]:
    """What stands in front of a unit in brackets, and the unit; the whole title and nothing where there is none.

    >>> split_title("Ch A (mV)"), split_title("Volt")
    (('Ch A', 'mV'), ('Volt', ''))
    """
    match = _WITH_UNIT.fullmatch(title)
    return (match[1].strip(), match[2]) if match else (title, "")


def plain_name(title: str) -> str:
    """The title without a unit behind it.

    >>> plain_name("CH1 (mV)"), plain_name("D[7:0] (hex)"), plain_name("Q (spare)")
    ('CH1', 'D[7:0]', 'Q (spare)')
    """
    name, unit = split_title(title)
    return name if name and is_unit_word(unit) and title.rstrip()[-1:] in (")", "]") else title


def unit_of(name: str, below: str = "") -> str:
    """The unit in the row of units, or in brackets behind the name, or the name itself where it is one."""
    return below.strip(_BRACKETS + " ") or split_title(name)[1] or name.strip(_BRACKETS + " ")


def volts_of(title: str) -> float | None:
    """The volts of one unit that a title names; None where it names none of volts."""
    return VOLT_UNITS.get((split_title(title)[1] or title).lower())


def is_unit(text: str) -> bool:
    """A unit of time or volts, or a type of logic, in brackets or not."""
    word = bare(text)
    return word in VOLT_UNITS or word in TYPES or time_unit_ps(word) is not None


def is_unit_word(cell: str) -> bool:
    """Nothing, or a unit, a type, a radix or counts: a word that stands below a name."""
    word = bare(cell)
    return not word or is_unit(word) or word in RADIXES or word in COUNTS


def is_counts(title: str) -> bool:
    """Does a title, or the unit in it, say counts of a converter?

    >>> is_counts("CH1 (counts)"), is_counts("LSB"), is_counts("COUNT3")
    (True, True, False)
    """
    return bare(split_title(title)[1] or title) in COUNTS


def time_unit_in(text: str) -> tuple[Fraction | None, str]:
    """Picoseconds of the unit of time that a heading names, and the heading where it means one that is not known.

    A plain word such as ``Time`` names none, and means none.

    >>> time_unit_in("Time (ns)"), time_unit_in("Time"), time_unit_in("Time (ts)"), time_unit_in("Time *us)")
    ((Fraction(1000, 1), ''), (None, ''), (None, 'Time (ts)'), (None, 'Time *us)'))
    """
    if match := list(_IN_BRACKETS.finditer(text)):
        unit = None if any(b in _IN_BRACKETS.sub("", text) for b in "[](){}") else time_unit_ps(match[-1][1])
        return unit, "" if unit is not None else text
    timed, last = TIME_HEADING.fullmatch(text), _LAST_WORD.fullmatch(text)
    for word in (last[1] if last else text, timed[1] if timed else None):
        if (unit := time_unit_ps(word or "")) is not None:
            return unit, ""
    near = len(text) == 2 and any(edits(text.lower(), unit) < 2 for unit in ("ms", "us", "ns", "ps", "fs"))
    plain = not text or (bool(_PLAIN.fullmatch(text)) and not (timed and timed[1]) and not near)
    plain = plain and not _LONG_UNIT.search(text)
    return None, "" if plain else text


def unit_of_times(title: list[str], units: list[str]) -> tuple[Fraction | None, str]:
    """The same for the heading of the times and what stands below it."""
    unit, unknown = time_unit_in(title[0]) if title else (None, "")
    if unit is not None or not units or not bare(units[0]):
        return unit, unknown
    unit = time_unit_ps(bare(units[0]))
    return unit, "" if unit is not None else unknown or units[0]


def wrong_volts(text: str) -> str:
    """What is wrong with the unit in the heading of a column of volts, in words; empty where nothing is.

    Words in brackets need not be units; one that a letter makes a unit of volts is a damaged unit, or another unit.

    >>> wrong_volts("Ch A (lV)"), wrong_volts("Ch A (mV"), wrong_volts("Ch A (north)"), wrong_volts("A [mV]")
    ("the unit 'lV'", "'Ch A (mV' with a bracket that has no pair", '', '')
    """
    if sum(map(text.count, "([{")) != sum(map(text.count, ")]}")):
        return f"{text[:40]!r} with a bracket that has no pair"
    shown = next((match[1].strip() for match in reversed(list(_IN_BRACKETS.finditer(text)))), "")
    word = shown.lower()
    sign = len(word) == 1 and not word.isalnum()
    if not (sign or any(map(str.isalpha, word))) or word in VOLT_UNITS or word in TYPES:
        return ""
    near = any(edits(word, unit) < 2 for unit in VOLT_UNITS if len(word) > 1 or len(unit) == 1)
    return f"the unit {shown[:40]!r}" if near else ""


# ---- rows of titles


def are_units(cells: Sequence[str], names: Sequence[str]) -> bool:
    """Is a row of cells, below one of ``names``, units, types, radixes or the values of start and increment?

    >>> are_units(["us", "V", ""], ["Time", "A", "B"]), are_units(["Time", "A"], ["Run 3", "Board 7"])
    (True, False)
    """
    if {"start", "increment"} <= {name.lower() for name in names} or not any(cells):
        return True
    timed = time_unit_ps(bare(cells[0])) is not None
    if len(filled(cells)) == 1 and timed:
        return True
    words = [cell for cell in cells if cell and not NUMBER.fullmatch(cell)]
    # a name or two may be torn off, which is told
    fits = len(cells) >= len(filled(names)) >= max(min(2, len(filled(cells))), len(filled(cells)) - 2)
    name, unit = split_title(cells[0])
    named = bool(name) and time_unit_ps(unit) is not None
    if not fits or not words or named or (TIME_WORD.fullmatch(cells[0]) and not timed):
        return False
    # a word that is the same for every column is a type, not a name; below a heading for times there are units
    typed = len(cells) > 1 and len(set(cells[len(cells) > 2 :])) == 1
    known = sum(is_unit_word(word) or word.lower() == "sequence" for word in words)
    below = len(cells) > 1 and time_unit_in(names[0])[0] is None and TIME_WORD.fullmatch(names[0]) is not None
    below = below and (known > 0 or TIME_HEADING.fullmatch(names[0]) is not None)
    return timed or typed or below or 2 * known >= len(words)


def is_pair(cells: Sequence[str]) -> bool:
    """``Sample Interval,4e-09`` or ``Vertical Units,V``, but neither ``TIME,CH1`` nor ``second,Volt``."""
    some = [cell for cell in cells if cell]
    if cells[0][:1] in ("(", "["):
        return False  # a unit, known or not
    if len(some) != 2 or not cells[0] or TIME_WORD.fullmatch(cells[0]):
        return len(some) == 1 and len(cells) > 1 and bool(cells[0]) and not is_unit(cells[0])
    return bool(NUMBER.fullmatch(cells[1])) or (is_unit(some[1]) and not is_unit(some[0]))


def names_and_units(rows: Sequence[list[str]]) -> tuple[list[str], list[str]]:
    """The line of names, and the line of units or types below it if there is one; trailing blanks taken off."""
    if len(rows) > 1 and are_units(rows[-1], rows[-2]):
        return filled(rows[-2]), filled(rows[-1])
    return filled(rows[-1]) if rows else [], []


def channel_names(own: list[str], listed: tuple[str, ...], columns: int) -> tuple[str, ...]:
    """The names that the title or a list above it gives, if there is one a column; else numbers from 0."""
    typed = (len(own) > 1 and len(set(own)) == 1) or (bool(listed) and all(word.lower() in TYPES for word in own))
    for names in ((), listed) if typed else (own, listed):
        if len(names) == columns and all(names):
            return distinct([unguarded(name) for name in names])
    return tuple(map(str, range(columns)))


def free_name(name: str, taken: Collection[str]) -> str:
    """The name, or with a number behind it where it is taken: two channels of one name would be one.

    >>> free_name("A", {"A", "B"})
    'A (2)'
    """
    number, own = 1, name
    while own in taken:
        number += 1
        own = f"{name} ({number})"
    return own


def distinct(names: Iterable[str]) -> tuple[str, ...]:
    """Names of which none stands twice.

    >>> distinct(["A", "B", "A"])
    ('A', 'B', 'A (2)')
    """
    given: dict[str, None] = {}
    for name in names:
        given[free_name(name, given)] = None
    return tuple(given)

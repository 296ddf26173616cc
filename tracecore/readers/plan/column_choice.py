"""What a person says of one column: volts with a factor, logic, words of a bus, the time, or leave it out."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Literal, get_args

from tracecore.errors import UnknownCapture
from tracecore.quantities import time_unit_ps
from tracecore.readers.plan.words import BASE_WORDS, BASES, base_number

Kind = Literal["volts", "logic", "word", "time", "leave out"]
KINDS: tuple[Kind, ...] = get_args(Kind)
_EXPECTED = "volts, volts x10, logic, words, words hex, words octal, words binary, time, time ns or leave out"
# a kind as it is typed, and as a sentence has it
_KIND_TEXTS: dict[str, Kind] = {
    "volts": "volts",
    "volt": "volts",
    "logic": "logic",
    "words": "word",
    "word": "word",
    "time": "time",
    "leave out": "leave out",
    "left out": "leave out",
}
_KIND = "|".join(sorted(_KIND_TEXTS, key=len, reverse=True))
_TEXT = re.compile(
    rf"\s*(?:(?:the\s+)?({_KIND})(?![a-wyzµμ]))?\s*(?:[x×*]?\s*(\d[\d.,]*(?:/\d+)?)|([a-zµμ]+))?\s*", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class ColumnChoice:
    """``kind`` None leaves it to the file. ``factor`` (above zero) multiplies volts: 10 for a probe of 10:1 that the
    instrument took for 1:1. ``base`` (2, 8, 16) is that of words, ``unit`` ("ns") that of the time.

    Raises ValueError, one sentence, for a kind, factor, base or unit that is none, or that does not go with the kind.
    """

    kind: Kind | None = None
    factor: Fraction | float | None = None
    base: int | str | None = None
    unit: str | None = None

    def __post_init__(self) -> None:
        if self.kind is not None and self.kind not in KINDS:
            raise ValueError(f"found {self.kind!r} as kind of a column; expected {', '.join(KINDS)}.")
        if self.factor is not None:
            factor = Fraction(self.factor).limit_denominator(10**9)
            if factor <= 0:
                raise ValueError(f"found {float(self.factor):g} as factor of volts; expected a number above zero.")
            object.__setattr__(self, "factor", factor)
        object.__setattr__(self, "base", base_number(self.base))
        if self.unit is not None and time_unit_ps(self.unit) is None:
            raise ValueError(f"found {self.unit!r} as unit of time; expected s, ms, us, ns or ps.")
        for said, kinds in ((self.factor, (None, "volts")), (self.base, ("word",)), (self.unit, ("time",))):
            if said is not None and self.kind not in kinds:
                raise ValueError(f"found {said} said of a column of the kind {self.kind}; expected {_EXPECTED}.")

    @property
    def text(self) -> str:
        """As it is kept and typed.

        >>> ColumnChoice("volts", 10).text, ColumnChoice("word", base=8).text
        ('volts x10', 'words octal')
        """
        more = ""
        if self.factor is not None:
            more = f"x{_plain(Fraction(self.factor))}"
        elif self.base is not None:
            more = BASE_WORDS[int(self.base)]
        elif self.unit is not None:
            more = self.unit
        kind = "words" if self.kind == "word" else self.kind or ""
        return " ".join(part for part in (kind, more) if part)


Choices = Mapping[str, ColumnChoice]


def _plain(factor: Fraction) -> str:
    """A decimal where it is exact, else a fraction."""
    decimal = f"{float(factor):g}"
    return decimal if Fraction(decimal) == factor else str(factor)


def parse_choice(text: str) -> ColumnChoice:
    """The choice from its text. Raises ValueError, one sentence.

    >>> parse_choice("volts x10") == ColumnChoice("volts", 10)
    True
    >>> parse_choice("x2.5").factor
    Fraction(5, 2)
    >>> parse_choice("leave out").kind, parse_choice("the words").kind
    ('leave out', 'word')
    """
    match = _TEXT.fullmatch(text)
    if match is None or not text.strip():
        raise ValueError(f"found {text!r} said of a column; expected {_EXPECTED}.")
    kind = _KIND_TEXTS[match[1].lower()] if match[1] else None
    factor = unit = base = None
    if match[2]:
        try:
            factor = Fraction(match[2].replace(",", "."))
        except (ValueError, ZeroDivisionError) as error:
            raise ValueError(f"found {match[2]!r} as factor of volts; expected a number such as 10.") from error
    elif match[3] and kind == "word" and match[3].lower() in BASES:
        base = match[3].lower()
    elif match[3] and kind == "time":
        unit = match[3]
    elif match[3]:
        raise ValueError(f"found {text!r} said of a column; expected {_EXPECTED}.")
    return ColumnChoice(kind, factor, base, unit)


def with_time(path: str | Path, columns: Choices | None, time_column: str | None) -> dict[str, ColumnChoice]:
    """All choices, the time's among them. Raises UnknownCapture where two columns are said to be the time."""
    chosen = dict(columns or {})
    if time_column is not None:
        said = chosen.get(time_column, ColumnChoice("time"))
        chosen[time_column] = said if said.kind == "time" else ColumnChoice("time")
    times = [name for name, choice in chosen.items() if choice.kind == "time"]
    if len(times) > 1:
        raise UnknownCapture(
            path,
            found=f"{' and '.join(map(repr, times))} said to be the time",
            expected="one column of time",
            do="Say another kind of one of them.",
        )
    return chosen

"""What a person said of a file that does not say it itself; a case keeps it, so that the file reads the same again."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from app.case.values import HeldCapture

COLUMN = "column "
"""Stands before the name of a column where what was said of it is kept."""


@dataclass(frozen=True, slots=True)
class Wish:
    """``layout`` is a reader's name, ``delimiter`` one character, ``first_row`` the line of the first row of data,
    counted from 1, ``time_unit`` as "ns", ``word_base`` 2, 8 or 16; ``volt_scale`` multiplies volts, as a probe of
    10:1 that the instrument did not know of asks for. None leaves it to the file. ``columns`` says by name what single
    columns are, as texts such as "volts x10".
    """

    sample_rate_hz: Fraction | None = None
    layout: str | None = None
    delimiter: str | None = None
    first_row: int | None = None
    time_unit: str | None = None
    word_base: int | None = None
    volt_scale: Fraction | None = None
    columns: tuple[tuple[str, str], ...] = ()

    @property
    def arguments(self) -> dict[str, Any]:
        """The options for ``read_capture``; those that were not said are left out. Raises ValueError for a text that
        says nothing of a column.

        >>> Wish(layout="sampled rows").arguments
        {'layout': 'sampled rows'}
        """
        named: dict[str, Any] = {
            "sample_rate": self.sample_rate_hz,
            "layout": self.layout,
            "delimiter": self.delimiter,
            "first_row": self.first_row,
            "time_unit": self.time_unit,
            "word_base": self.word_base,
            "volt_scale": self.volt_scale,
        }
        if self.columns:
            from tracecore.readers.by_hand.column_choice import parse_choice

            named["columns"] = {name: parse_choice(text) for name, text in self.columns}
        return {name: value for name, value in named.items() if value is not None}

    @property
    def said(self) -> tuple[tuple[str, str], ...]:
        """As texts, rate and layout aside, which a held capture keeps by themselves.

        >>> Wish(layout="sampled rows", first_row=3).said
        (('first_row', '3'),)
        """
        rest = {n: v for n, v in self.arguments.items() if n not in ("sample_rate", "layout", "columns")}
        columns = tuple((COLUMN + name, text) for name, text in self.columns)
        return (*((name, str(value)) for name, value in rest.items()), *columns)


def wish_from(sample_rate: str, layout: str, said: tuple[tuple[str, str], ...]) -> Wish:
    """The wish from the texts that are kept of it. Raises ValueError where one is none.

    >>> wish_from("24000000", "", (("word_base", "8"),))
    Wish(sample_rate_hz=Fraction(24000000, 1), layout=None, delimiter=None, first_row=None, time_unit=None, \
word_base=8, volt_scale=None, columns=())
    """
    texts = dict(said)
    return Wish(
        Fraction(sample_rate) if sample_rate else None,
        layout or None,
        texts.get("delimiter"),
        int(texts["first_row"]) if "first_row" in texts else None,
        texts.get("time_unit"),
        int(texts["word_base"]) if "word_base" in texts else None,
        Fraction(texts["volt_scale"]) if "volt_scale" in texts else None,
        tuple((name.removeprefix(COLUMN), text) for name, text in said if name.startswith(COLUMN)),
    )


def wish_of(held: HeldCapture) -> Wish:
    """What was said of a held capture's file."""
    return wish_from(held.sample_rate, held.layout, held.said)

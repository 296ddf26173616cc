"""What a person said of a file that does not say it itself: one value that the case, the command line and the window
share."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

COLUMN = "column "
"""Stands before the name of a column where what was said of it is kept as a text."""


@dataclass(frozen=True, slots=True)
class ReadSettings:
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

        >>> ReadSettings(layout="sampled rows").arguments
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
            from tracecore.readers.plan.column_choice import parse_choice

            named["columns"] = {name: parse_choice(text) for name, text in self.columns}
        return {name: value for name, value in named.items() if value is not None}

    @property
    def said(self) -> tuple[tuple[str, str], ...]:
        """As texts, rate and layout aside, which a held capture keeps by themselves.

        >>> ReadSettings(layout="sampled rows", first_row=3).said
        (('first_row', '3'),)
        """
        rest = {n: v for n, v in self.arguments.items() if n not in ("sample_rate", "layout", "columns")}
        columns = tuple((COLUMN + name, text) for name, text in self.columns)
        return (*((name, str(value)) for name, value in rest.items()), *columns)

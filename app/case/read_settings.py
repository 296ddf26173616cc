"""What was said of a capture's file, as the case keeps it: texts, from which the same settings come back."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from tracecore.quantities import rate_of
from tracecore.readers.settings import COLUMN, ReadSettings

if TYPE_CHECKING:
    from app.case.values import HeldCapture


def read_settings_from(sample_rate: str, layout: str, said: tuple[tuple[str, str], ...]) -> ReadSettings:
    """The wish from the texts that are kept of it. Raises ValueError where one is none.

    >>> read_settings_from("24000000", "", (("word_base", "8"),))
    ReadSettings(sample_rate_hz=Fraction(24000000, 1), layout=None, delimiter=None, first_row=None, time_unit=None, \
word_base=8, volt_scale=None, columns=())
    """
    texts = dict(said)
    return ReadSettings(
        rate_of(_number(sample_rate, "sample rate")) if sample_rate else None,
        layout or None,
        texts.get("delimiter"),
        int(texts["first_row"]) if "first_row" in texts else None,
        texts.get("time_unit"),
        int(texts["word_base"]) if "word_base" in texts else None,
        _number(texts["volt_scale"], "scale of volts") if "volt_scale" in texts else None,
        tuple((name.removeprefix(COLUMN), text) for name, text in said if name.startswith(COLUMN)),
    )


def _number(text: str, what: str) -> Fraction:
    try:
        number = Fraction(text)
    except ZeroDivisionError as error:
        raise ValueError(f"the {what} {text} is no number") from error
    if number == 0:
        raise ValueError(f"the {what} is zero")
    return number


def read_settings_of(held: HeldCapture) -> ReadSettings:
    """What was said of a held capture's file."""
    return read_settings_from(held.sample_rate, held.layout, held.said)

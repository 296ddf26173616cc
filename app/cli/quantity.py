"""Quantities typed after an option, such as '24 MHz'."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from fractions import Fraction


def quantity(reader: str, wanted: str) -> Callable[[str], Fraction]:
    """A reader for argparse: ``reader`` is a function of tracecore.quantities, ``wanted`` what to ask for."""

    def read(text: str) -> Fraction:
        from tracecore import quantities

        try:
            value: Fraction = getattr(quantities, reader)(text)
        except ValueError as error:
            raise argparse.ArgumentTypeError(f"{text!r} is not {wanted}") from error
        if value < 0:
            raise argparse.ArgumentTypeError(f"{text!r} is below zero; give {wanted}")
        return value

    return read

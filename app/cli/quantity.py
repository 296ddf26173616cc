"""Quantities typed after an option, such as '24 MHz', and what is said of a column, as 'CH1=volts x10'."""

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


def cycles(text: str) -> int:
    """A whole number of cycles, with or without a sign; digits may be grouped as they are printed."""
    plain = "".join(text.split()).replace("\u2212", "-")
    try:
        return int(plain)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number of cycles such as 12 or -7") from error


def column(text: str) -> tuple[str, str]:
    """The name of a column and what is said of it; a name may hold an equals sign."""
    from tracecore.readers.plan.column_choice import parse_choice

    name, mark, said = text.rpartition("=")
    if not mark or not name.strip():
        raise argparse.ArgumentTypeError(f"{text!r} names no column; write it as 'CH1=volts x10'")
    try:
        return name.strip(), parse_choice(said).text
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"column {name.strip()!r}: {str(error).rstrip('.')}") from error


def add_columns(parser: argparse._ActionsContainer) -> None:
    """The option that says what a column is; it may stand several times."""
    parser.add_argument(
        "--column",
        action="append",
        type=column,
        default=[],
        metavar="NAME=KIND",
        help="what a column is: 'CH1=volts x10' (probe 10:1), 'D=words octal', 'T=time ns', 'E=logic' or 'F=leave out'",
    )

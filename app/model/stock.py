"""Donor parts that are left, and which of them may take a part's place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.report.part_words import difference_words, donor_words
from tracecore.circuit.parts.catalogue import exact_number, find_part
from tracecore.circuit.parts.donor import Donor
from tracecore.circuit.parts.replacements import replacements
from tracecore.errors import RequestError

if TYPE_CHECKING:
    from app.case.record import OpenCase


@dataclass(frozen=True, slots=True)
class Offer:
    """One donor that may go in; ``words`` say where it is and what differs."""

    donor: Donor
    words: str


def donor_place(donor: Donor) -> str:
    """Where a donor is, as the log writes it.

    >>> donor_place(Donor("donor 2", "U14", "74LS138"))
    'donor 2, U14'
    """
    return f"{donor.board}, {donor.position}"


def left_in_stock(case: OpenCase) -> tuple[Donor, ...]:
    """The stock without the parts that the log has moved from their place."""
    gone = {move.source for move in case.parts}
    return tuple(donor for donor in case.donors if donor_place(donor) not in gone)


def offers_for(case: OpenCase, number: str) -> tuple[Offer, ...]:
    """Donors left that may take the place of a number: the same one first; none where the table lacks the number."""
    try:
        part = find_part(number)
    except RequestError:
        return ()
    exact = exact_number(number, part)
    return tuple(
        Offer(donor, f"{donor.number}, {donor_words(donor)}: {difference_words(exact, found)}")
        for found in replacements(part, exact, left_in_stock(case))
        for donor in found.donors
    )

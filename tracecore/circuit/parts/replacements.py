"""Which numbers may take a part's place, by the table alone, and where one is left."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from tracecore.circuit.parts.catalogue import Part, all_parts, exact_number, family_of, plain_number
from tracecore.circuit.parts.delays import part_times
from tracecore.circuit.parts.donor import Donor
from tracecore.circuit.parts.outputs import input_names, output_values
from tracecore.circuit.sheet_table import SheetForm, sheet_table, sheet_text

COLUMNS = ("board", "position", "number", "date_code")
FORM = SheetForm("a stock list", COLUMNS, COLUMNS[:3], "donor 2,U14,74LS138,7338")
FAN_OUT = {
    ("74", "74"): 10, ("74S", "74S"): 10, ("74LS", "74LS"): 20, ("74LS", "74"): 5, ("74S", "74"): 12, ("74", "74S"): 8,
    ("74LS", "74S"): 4, ("74", "74LS"): 20,
}  # fmt: skip
"""Loads that one plain output drives, as driver and load: the lesser of both levels.

From the static limits of SDLS025D (7400, 74LS00, 74S00); 74 on 74LS is held by the high level.
"""


BUFFER_LOADS = {"7437": 30}
"""Loads of plain 74 that a buffer drives, where the table has it: SDLS103 (48 mA over 1.6 mA)."""
_NOT_PLAIN = {"7437", "7438", "7439", "7440", "74240", "74241", "74244", "74245", "74373", "74374", "8838", "8881"}
"""Parts whose outputs are not the plain ones of their family."""


@dataclass(frozen=True, slots=True)
class Replacement:
    """A number that may take the place of another: same legs, same function. ``family`` is "" outside the 74 line.

    ``settle_ps`` is its longest published delay, None where the table has none; ``faster_by`` that of the one to be
    replaced over its own. ``loads`` is what it drives of its own family, None where not in the table.
    ``open_collector`` is what changes: "gains", "loses", or "" where it stays. ``donors`` are those in stock.
    """

    number: str
    family: str
    settle_ps: int | None
    faster_by: float | None
    loads: int | None
    open_collector: str
    donors: tuple[Donor, ...]


def replacements(part: Part, number: str, donors: Iterable[Donor] = ()) -> tuple[Replacement, ...]:
    """Numbers with the same legs and function, the same number first, then those in stock, then the others."""
    number = exact_number(number, part)
    stock = tuple(donors)
    own = _settle(number, part)
    out = []
    for other in all_parts():
        if other is not part and not _alike(part, other):
            continue
        for name in other.numbers:
            settle = _settle(name, other)
            here = tuple(d for d in stock if plain_number(d.number) == plain_number(name))
            family = family_of(name)
            gains = bool(other.open_collector) - bool(part.open_collector)
            out.append(
                Replacement(
                    name,
                    family,
                    settle,
                    own / settle if own and settle else None,
                    _loads(name, other),
                    {1: "gains", -1: "loses"}.get(gains, ""),
                    here,
                )
            )
    return tuple(sorted(out, key=lambda r: (r.number != number, bool(r.open_collector), not r.donors)))


def read_donors(path: str | Path) -> tuple[Donor, ...]:
    """Reads a stock list. Raises SheetError with line and column where a cell cannot be taken."""
    return parse_donors(sheet_text(path, FORM), str(path))


def parse_donors(text: str, path: str = "stock list") -> tuple[Donor, ...]:
    """Takes the text of a list.

    >>> parse_donors("board,position,number,date_code\\ndonor 2,U14,74LS138,7338\\n")[0].position
    'U14'
    """
    out = []
    for row in sheet_table(text, path, FORM).rows:
        for name in COLUMNS[:3]:
            if not row.cells[name]:
                raise row.bad(name, f"the {name} of the chip", "Fill this cell or take the row out.")
        out.append(Donor(*(row.cells[name] for name in COLUMNS)))
    return tuple(out)


def _loads(number: str, part: Part) -> int | None:
    """Loads of its own family that an output drives; None where the table does not say."""
    if part.number in _NOT_PLAIN or part.open_collector:
        return BUFFER_LOADS.get(number)
    family = family_of(number)
    return FAN_OUT.get((family, family))


def _settle(number: str, part: Part) -> int | None:
    times = part_times(number, part)
    return times.settle_ps if plain_number(times.settle_of) == plain_number(number) else None


@lru_cache(maxsize=1024)
def _alike(one: Part, other: Part) -> bool:
    """Same legs by number, each with the same function, whatever the outputs are built like."""
    if (one.vcc, one.gnd, one.kind) != (other.vcc, other.gnd, other.kind) or dict(one.pins) != dict(other.pins):
        return False
    if one.kind == "sequential":
        return (one.behaviour, one.asynchronous) == (other.behaviour, other.asynchronous)
    same = output_values(one, one.number), output_values(other, other.number)
    texts = [{name: value.text for name, value in values.items()} for values in same]
    return texts[0] == texts[1] and input_names(one, one.number) == input_names(other, other.number)

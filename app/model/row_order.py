"""The rows of the traces as a person arranged them: hidden, moved, buses first, or each bus above its bits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from app.case.values import RowName, ShownRows

if TYPE_CHECKING:
    from tracecore.comparison import Comparison


def all_rows(comparison: Comparison | None) -> tuple[RowName, ...]:
    """Every row as it comes: signals as compared, then each bus of two bits or more."""
    if comparison is None:
        return ()
    signals = tuple(RowName("signal", finding.signal) for finding in comparison.signals)
    buses = tuple(RowName("bus", bus) for bus, bits in bits_of(comparison).items() if len(bits) > 1)
    return (*signals, *buses)


def bits_of(comparison: Comparison) -> Mapping[str, tuple[str, ...]]:
    """The signals of each bus, highest bit first; a bit without a signal is left out."""
    found: dict[str, list[tuple[int, str]]] = {}
    for finding in comparison.signals:
        if finding.bus and finding.bit is not None:
            found.setdefault(finding.bus, []).append((finding.bit, finding.signal))
    return {bus: tuple(name for _bit, name in sorted(bits, reverse=True)) for bus, bits in found.items()}


def ordered(rows: Sequence[RowName], kept: ShownRows) -> tuple[RowName, ...]:
    """All rows in the kept order; those that it does not name come after, as they come."""
    named = [row for row in kept.order if row in rows]
    return (*named, *(row for row in rows if row not in named))


def shown(rows: Sequence[RowName], kept: ShownRows, chosen: str | None) -> tuple[RowName, ...]:
    """The rows to draw; the chosen signal's is there even where it is hidden, so that a cause can be looked at."""
    hidden = set(kept.hidden) - {RowName("signal", chosen or "")}
    return tuple(row for row in ordered(rows, kept) if row not in hidden)


def moved(rows: Sequence[RowName], kept: ShownRows, row: RowName, step: int) -> ShownRows:
    """One row up (-1) or down (1) past the next one that is shown; the same where there is none."""
    order = list(ordered(rows, kept))
    if row not in order:
        return kept
    seen = [other for other in order if other not in kept.hidden or other == row]
    at = seen.index(row) + step
    if not 0 <= at < len(seen):
        return kept
    order.remove(row)
    beside = order.index(seen[at])
    order.insert(beside if step < 0 else beside + 1, row)
    return ShownRows(tuple(order), kept.hidden)


def buses_first(rows: Sequence[RowName], kept: ShownRows) -> ShownRows:
    """All buses above all signals."""
    order = sorted(ordered(rows, kept), key=lambda row: row.kind != "bus")
    return ShownRows(tuple(order), kept.hidden)


def by_bus(comparison: Comparison, kept: ShownRows) -> ShownRows:
    """Each bus with its bits below it, highest first; then what belongs to none."""
    rows = ordered(all_rows(comparison), kept)
    groups = bits_of(comparison)
    order: list[RowName] = []
    for row in rows:
        if row.kind == "bus":
            order += [row, *(RowName("signal", name) for name in groups[row.name])]
    return ShownRows((*order, *(row for row in rows if row not in order)), kept.hidden)

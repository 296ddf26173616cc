"""What a report is made from: a comparison, or the record of an older one, and the case with its photos."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from app.report.blocks import Run
from app.report.record import SCHEMA, comparison_record

if TYPE_CHECKING:
    from app.case.record import OpenCase
    from app.case.values import Picture
    from tracecore.comparison import Comparison

Photos = Callable[[str], bytes]
"""Gives the JPEG bytes of a stored photo (``Picture.stored``)."""


@dataclass(frozen=True, slots=True, eq=False)
class Material:
    """``record`` is that of ``comparison``, else the kept one (``kept``), else None: then nothing was compared.

    ``low`` names the signals that are active low. ``chosen`` names the sections that will be in the report.
    """

    comparison: Comparison | None
    case: OpenCase | None
    photos: Photos | None
    record: dict[str, Any] | None
    kept: bool
    chosen: frozenset[str]
    low: frozenset[str] = field(default_factory=frozenset)

    def name(self, signal: str, *, bold: bool = False) -> Run:
        """A signal's name as it is drawn, overbar included."""
        return Run(signal, bold=bold, low=signal in self.low)

    def place(self, signal: str) -> str:
        """Slot and pin as they are typed; empty where they are not known."""
        rows = self.record["signals"] if self.record else ()
        row = next((row for row in rows if row["signal"] == signal), None)
        return place_of(row) if row else ""

    def picture(self, number: int) -> Picture | None:
        """A picture of the case by its number; None where it is gone."""
        pictures = self.case.pictures if self.case else ()
        return next((picture for picture in pictures if picture.id == number), None)


def gather(
    comparison: Comparison | None,
    case: OpenCase | None,
    photos: Photos | None,
    saved: dict[str, Any] | None,
    chosen: frozenset[str],
) -> Material:
    """Puts it together. A kept record of an unknown schema is left out, as if there were none."""
    kept = comparison is None and saved is not None and saved.get("schema") == SCHEMA
    record = comparison_record(comparison) if comparison is not None else saved if kept else None
    low = {probe.signal for probe in case.sheet.probes if probe.active == "low"} if case else set()
    if comparison is not None:
        low |= {s.signal for s in comparison.signals if s.active == "low"}
    return Material(comparison, case, photos, record, kept, chosen, frozenset(low))


def place_of(row: dict[str, Any]) -> str:
    """Slot and pin of a signal of a record, ``7-B04``."""
    return "-".join(part for part in (row["slot"], row["pin"]) if part)

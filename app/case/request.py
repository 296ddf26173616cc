"""From a case to the comparison that it asks for."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from app.case.record import OpenCase, SideState
from app.case.shelf import Shelf

if TYPE_CHECKING:
    from tracecore.comparison import CompareRequest


def case_request(case: OpenCase, shelf: Shelf, tell: Callable[[float, str], None] | None = None) -> CompareRequest:
    """The comparison that a case asks for, the shown pair first. Raises CaseError where a capture is absent."""
    from tracecore.comparison import CompareRequest

    sides = []
    for state in (case.good, case.suspect):
        sides.append(tuple(shelf.load(held, tell) for held in state.shown_first))
    return CompareRequest(
        sides[0],
        sides[1],
        case.sheet,
        wire_list=case.wire_list,
        pins=case.pins,
        own_sheets=(_sheet_path(case.good), _sheet_path(case.suspect)),
        same_names=case.suspect.same,
        **case.settings.named,
    )


def _sheet_path(side: SideState) -> str:
    return "" if side.sheet is None else side.sheet.path

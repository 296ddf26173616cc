"""Changes of how the files of a side belong together, and of what their channels are called."""

from __future__ import annotations

from dataclasses import dataclass, replace

from app.case.change import Change
from app.case.record import SIDE_WORDS, OpenCase, Side
from app.case.side_names import SameNames, as_in_case, one_sheet
from app.case.values import HeldCapture
from tracecore.circuit.probe_sheet import ProbeSheet


@dataclass(frozen=True, slots=True)
class SetSideSheet(Change):
    """A probe sheet of one side alone names its channels; None takes it away. Its rows stand on the case's sheet."""

    side: Side
    sheet: ProbeSheet | None

    @property
    def words(self) -> str:
        what = "take away the sheet" if self.sheet is None else "use a sheet"
        return f"{what} of the {SIDE_WORDS[self.side].lower()} side"

    def applied(self, case: OpenCase) -> OpenCase:
        before = case.side(self.side)
        gone = set(as_in_case(before.sheet)) if before.sheet is not None else set()
        kept = tuple(probe for probe in case.sheet.probes if probe not in gone)
        case = case.with_side(self.side, replace(before, sheet=self.sheet))
        own = (case.good.sheet, case.suspect.sheet)
        return replace(case, sheet=one_sheet(replace(case.sheet, probes=kept), own))


@dataclass(frozen=True, slots=True)
class SetSameNames(Change):
    """Names of the suspect side that mean a signal of the known-good side; all that stand, not only new ones."""

    same: SameNames

    @property
    def words(self) -> str:
        return "take names as one signal" if self.same else "take names as signals of their own"

    def applied(self, case: OpenCase) -> OpenCase:
        return case.with_side("suspect", replace(case.suspect, same=self.same))


@dataclass(frozen=True, slots=True)
class JoinCaptures(Change):
    """Captures of a side are one run: ``capture`` stands in the place of the first of them."""

    side: Side
    places: tuple[int, ...]
    capture: HeldCapture

    @property
    def words(self) -> str:
        return "join files of one run"

    def applied(self, case: OpenCase) -> OpenCase:
        state = case.side(self.side)
        first = min(self.places)
        shown = state.captures[state.shown].key
        left = tuple(
            self.capture if place == first else held
            for place, held in enumerate(state.captures)
            if place == first or place not in self.places
        )
        keys = [held.key for held in left]
        return case.with_side(
            self.side, replace(state, captures=left, shown=keys.index(shown) if shown in keys else first)
        )


def offered_names(case: OpenCase) -> SameNames:
    """Names of the suspect side that differ from a name of the known-good side by case, blanks, strokes or a prefix
    alone. Whether each pair is one signal only a person can tell.
    """
    good = case.good.shown_capture
    if good is None or not case.suspect.captures:
        return ()
    # numpy is slow to import, and the first window waits for this module
    from tracecore.sides.names import plain_matches

    found: dict[str, str] = {}
    for held in case.suspect.shown_first:
        found |= {
            own: name
            for own, name in plain_matches(held.channels, good.channels).items()
            if case.sheet.probe(own).signal != case.sheet.probe(name).signal
        }
    return tuple(found.items())


def pair_words(same: SameNames, most: int = 6) -> str:
    """The pairs, the known-good name first: "MCLK and mclk, D0 and d 0".

    >>> pair_words((("mclk", "MCLK"),))
    'MCLK and mclk'
    """
    told = ", ".join(f"{name} and {own}" for own, name in same[:most])
    return told if len(same) <= most else f"{told} and {len(same) - most} more"

"""Changes of what is known of the circuit: wire list, pin list, ohm readings, the crate's shape, donor parts."""

from __future__ import annotations

from dataclasses import dataclass, replace

from app.case.change import Change
from app.case.record import OpenCase
from app.case.values import CrateShape
from tracecore.circuit.continuity.readings import ContinuityList, Reading
from tracecore.circuit.parts.donor import Donor
from tracecore.circuit.pin_list import PinList
from tracecore.circuit.wire_list import WireList


@dataclass(frozen=True, slots=True)
class SetWireList(Change):
    """Use a wire list for the likely causes; None ranks without one."""

    wire_list: WireList | None

    @property
    def words(self) -> str:
        return "take the wire list out" if self.wire_list is None else "use a wire list"

    def applied(self, case: OpenCase) -> OpenCase:
        return replace(case, wire_list=self.wire_list)


@dataclass(frozen=True, slots=True)
class SetPinList(Change):
    """Use a pin list, or the same with a row edited; None takes it out."""

    pins: PinList | None

    @property
    def words(self) -> str:
        return "take the pin list out" if self.pins is None else "use a pin list"

    def applied(self, case: OpenCase) -> OpenCase:
        return replace(case, pins=self.pins)


@dataclass(frozen=True, slots=True)
class AddReadings(Change):
    """Ohm readings join those of the case; what was to be measured is filled in, and nothing is replaced."""

    readings: tuple[Reading, ...]
    good_leads_ohms: float | None = None
    suspect_leads_ohms: float | None = None

    @property
    def words(self) -> str:
        return "a reading" if len(self.readings) == 1 else f"{len(self.readings)} readings"

    def applied(self, case: OpenCase) -> OpenCase:
        after: ContinuityList = case.continuity
        for reading in self.readings:
            # where it came from is no part of the case
            after = after.entered(replace(reading, path="", line=0))
        after = after.with_leads(self.good_leads_ohms, "good").with_leads(self.suspect_leads_ohms, "suspect")
        return replace(case, continuity=after)


@dataclass(frozen=True, slots=True)
class SetMeter(Change):
    """What the meter's leads read alone on either side, and the limits by which readings are judged; ohms."""

    good_leads_ohms: float
    suspect_leads_ohms: float
    joins_ohms: float
    raised_ohms: float

    @property
    def words(self) -> str:
        return "set the meter's leads and limits"

    def applied(self, case: OpenCase) -> OpenCase:
        after = replace(
            case.continuity,
            good_leads_ohms=self.good_leads_ohms,
            suspect_leads_ohms=self.suspect_leads_ohms,
            joins_ohms=self.joins_ohms,
            raised_ohms=self.raised_ohms,
        )
        return replace(case, continuity=after)


@dataclass(frozen=True, slots=True)
class SetCrate(Change):
    """The crate's slots, rows and names as described; None takes them from the pins that are named."""

    crate: CrateShape | None

    @property
    def words(self) -> str:
        return "take the crate's description out" if self.crate is None else "describe the crate"

    def applied(self, case: OpenCase) -> OpenCase:
        return replace(case, crate=self.crate)


@dataclass(frozen=True, slots=True)
class SetDonors(Change):
    """The stock of donor parts."""

    donors: tuple[Donor, ...]

    @property
    def words(self) -> str:
        return "use a stock list" if self.donors else "take the stock list out"

    def applied(self, case: OpenCase) -> OpenCase:
        return replace(case, donors=self.donors)

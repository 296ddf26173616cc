"""Changes of how a case's captures are compared and measured, beside the clock, the offset and what is left out."""

from __future__ import annotations

from dataclasses import dataclass

from app.case.change import Change
from app.case.record import OpenCase


@dataclass(frozen=True, slots=True)
class SetTolerance(Change):
    """How far apart matched transitions may lie, in picoseconds; None takes what sampling and parts explain."""

    tolerance_ps: int | None

    @property
    def words(self) -> str:
        return "choose the tolerance"

    def applied(self, case: OpenCase) -> OpenCase:
        return case.with_settings(tolerance_ps=self.tolerance_ps)


@dataclass(frozen=True, slots=True)
class SetSameStart(Change):
    """Both captures were triggered by the same event, or it is not known that they were."""

    same_start: bool

    @property
    def words(self) -> str:
        return "say whether both start alike"

    def applied(self, case: OpenCase) -> OpenCase:
        return case.with_settings(same_start=self.same_start)


@dataclass(frozen=True, slots=True)
class SetSameFile(Change):
    """The same bytes on both sides are meant, as a self-test, or refused."""

    same_file: bool

    @property
    def words(self) -> str:
        return "allow the same file on both sides" if self.same_file else "refuse the same file on both sides"

    def applied(self, case: OpenCase) -> OpenCase:
        return case.with_settings(same_file=self.same_file)


@dataclass(frozen=True, slots=True)
class SetSupply(Change):
    """The supply at the chips in volts, which some families' limits follow."""

    supply_v: float

    @property
    def words(self) -> str:
        return "enter the supply"

    def applied(self, case: OpenCase) -> OpenCase:
        return case.with_settings(supply_v=self.supply_v)


@dataclass(frozen=True, slots=True)
class SetBandwidth(Change):
    """The bandwidth of the scope with its probe, in hertz; None where it is not known."""

    bandwidth_hz: float | None

    @property
    def words(self) -> str:
        return "enter the bandwidth"

    def applied(self, case: OpenCase) -> OpenCase:
        return case.with_settings(bandwidth_hz=self.bandwidth_hz)

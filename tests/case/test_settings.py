"""What a person set of a comparison is kept in the case, and all of it reaches the comparison and the series."""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path

import pytest

from app.case.record import OpenCase
from app.case.setting_changes import SetBandwidth, SetSameFile, SetSameStart, SetSupply, SetTolerance
from app.case.store import CaseStore
from tracecore.capture_series import SeriesRequest
from tracecore.compare.request import CompareRequest
from tracecore.settings import CompareSettings

OTHER = CompareSettings(
    clock="MCLK",
    edge="falling",
    offset=12,
    same_start=True,
    family="74LS",
    tolerance_ps=20_000,
    qualifier="RFSH",
    same_file=True,
    supply_v=4.9,
    bandwidth_hz=100e6,
)
NAMES = tuple(f.name for f in fields(CompareSettings))


@pytest.mark.parametrize("name", NAMES)
def test_each_setting_is_kept_in_the_file_and_asks_anew(tmp_path: Path, name: str) -> None:
    assert getattr(OTHER, name) != getattr(CompareSettings(), name), "each must differ from its default here"
    path = tmp_path / "one.twinslot"
    store = CaseStore.open(path, make=True)
    before = store.read()
    after = before.with_settings(**{name: getattr(OTHER, name)})
    store.keep("change a setting", "T", after)
    store.close()
    again = CaseStore.open(path, make=False)
    assert again.read().settings == after.settings
    again.close()
    assert after.question != before.question


def test_requests_are_settings_and_captures() -> None:
    for kind in (CompareRequest, SeriesRequest):
        names = () if kind is SeriesRequest else ((),)
        made = kind((), *names, **OTHER.named)
        assert made.settings == OTHER
        assert replace(made, clock=None).settings == replace(OTHER, clock=None)


def test_changes_of_settings() -> None:
    case = OpenCase()
    for change, name, value in (
        (SetTolerance(5_000), "tolerance_ps", 5_000),
        (SetSameStart(True), "same_start", True),
        (SetSameFile(True), "same_file", True),
        (SetSupply(4.8), "supply_v", 4.8),
        (SetBandwidth(60e6), "bandwidth_hz", 60e6),
    ):
        assert getattr(change.applied(case).settings, name) == value  # type: ignore[attr-defined]
        assert change.words  # type: ignore[attr-defined]

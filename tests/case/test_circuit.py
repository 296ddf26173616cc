"""What is known of the circuit stays in the case file, is taken back, and is held against what cannot be."""

from __future__ import annotations

import math
import shutil
from pathlib import Path

import pytest

from app.__main__ import main
from app.case.change import Change
from app.case.circuit_changes import AddReadings, SetCrate, SetDonors, SetPinList, SetWireList
from app.case.items import case_of, items_of
from app.case.record import OpenCase
from app.case.store import CaseStore
from app.case.values import CrateShape
from tracecore.circuit.continuity.readings import Reading
from tracecore.circuit.parts.donor import Donor
from tracecore.circuit.pin_list import parse_pin_list
from tracecore.circuit.wire_list import parse_wire_list

SAVED = Path(__file__).parent / "saved" / "version2_circuit.twinslot"
CRATE = CrateShape(12, ("A", "B"), 36, ("Clock", "Sequence"))
CHANGES: tuple[Change, ...] = (
    SetCrate(CRATE),
    SetDonors((Donor("donor 2", "U14", "74LS138", "7338"),)),
    SetPinList(parse_pin_list("net,slot,pin,part,part_pin,direction\nD03,7,B04,U7 74181,2,in\n", "")),
    SetWireList(parse_wire_list("part,kind,output,inputs\nU7,gate,SUM,A B\n", "")),
    AddReadings((Reading("6-B22", "7-B04", math.inf, "suspect", "2026-02-04", "R."),), 0.1, 0.2),
)


def _filled() -> OpenCase:
    case = OpenCase()
    for change in CHANGES:
        case = change.applied(case)
    return case


def test_all_of_it_is_kept_and_taken_back_one_by_one(tmp_path: Path) -> None:
    store = CaseStore.open(tmp_path / "case.twinslot")
    for change in CHANGES:
        store.keep(change.words, "R.", change.applied(store.read()))
    store.close()
    store = CaseStore.open(tmp_path / "case.twinslot")
    case = store.read()
    assert (case.crate, case.donors) == (CRATE, CHANGES[1].donors)
    assert case.crate is not None
    assert [case.crate.name(slot) for slot in (1, 2, 3, 0)] == ["Clock", "Sequence", "", ""]
    assert case.pins == CHANGES[2].pins
    assert case.continuity.suspect_leads_ohms == 0.2
    taken = [store.undo()[0] for _ in CHANGES]
    assert taken == [change.words for change in reversed(CHANGES)]
    assert store.read().crate is None
    store.close()


def test_a_saved_case_with_a_circuit_opens(tmp_path: Path) -> None:
    """Written when crates and stock came into the case; it must open for ever."""
    path = tmp_path / "case.twinslot"
    shutil.copyfile(SAVED, path)
    store = CaseStore.open(path)
    case = store.read()
    assert store.trouble == ()
    store.close()
    assert (case.crate, case.donors, case.pins, case.wire_list) == (
        CRATE, CHANGES[1].donors, CHANGES[2].pins, CHANGES[3].wire_list,
    )  # fmt: skip
    assert [(r.start, r.end, r.ohms, r.side) for r in case.continuity.readings] == [
        ("6-B22", "7-B04", math.inf, "suspect")
    ]


@pytest.mark.parametrize(
    ("was", "becomes", "trouble"),
    [
        ('"slots":12', '"slots":0', "a crate of 0 slots"),
        ('"pins":36', '"pins":100000', "a row of 100000 pins"),
        ('["A","B"]', '["A","A"]', "its rows are none, or doubled"),
        ('["A","B"]', '["<b>"]', "a row is no letter"),
        ('"slots":12', '"slots":1', "more slots are named than there are"),
    ],
)
def test_a_crate_that_cannot_be_is_told_and_left_out(was: str, becomes: str, trouble: str) -> None:
    items = dict(items_of(_filled()))
    assert was in items["crate", ""]
    items["crate", ""] = items["crate", ""].replace(was, becomes)
    case, told = case_of(items)
    assert case.crate is None
    assert trouble in told[0]
    assert case.donors


def test_a_terminal_puts_lists_into_a_case(tmp_path: Path) -> None:
    path, files = str(tmp_path / "case.twinslot"), {}
    for name, text in (
        ("pins", "net,slot,pin\nD03,7,B04\nD03,6,B22\n"),
        ("readings", "from,to,ohms,side\nleads,leads,0.2,good\n6-B22,7-B04,0.4,good\n"),
        ("donors", "board,position,number\ndonor 2,U14,74LS138\n"),
    ):
        files[name] = tmp_path / f"{name}.csv"
        files[name].write_text(text)
    options = [word for name, file in files.items() for word in (f"--{name}", str(file))]
    assert main(["attach", path, "--new", *options]) == 0
    store = CaseStore.open(path, look_only=True)
    case = store.read()
    store.close()
    assert case.pins is not None
    assert [row.place for row in case.pins.rows] == ["7-B04", "6-B22"]
    assert (len(case.continuity.readings), case.continuity.good_leads_ohms) == (1, 0.2)
    assert case.donors[0].position == "U14"
    assert main(["attach", path, "--donors", "", "--pins", ""]) == 0
    store = CaseStore.open(path, look_only=True)
    assert (store.read().donors, store.read().pins) == ((), None)
    store.close()
    assert main(["attach", path]) == 2

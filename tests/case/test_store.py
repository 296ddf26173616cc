"""The case file: round trips, undo across openings, and every way in which a disk can say no."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from app.case import database, schema
from app.case.changes import AddCaptures, Drop, NameCase, Put, SetClock, SetOffset, SetSheet, SetUnit, Together
from app.case.errors import CaseBusy, CaseDamaged, CaseError, CaseReadOnly, CaseTooNew, DiskFull
from app.case.items import case_of, items_of
from app.case.record import OpenCase
from app.case.rescue import rescue
from app.case.store import CaseStore
from app.case.values import (
    BenchCard,
    CardRow,
    Entry,
    Figure,
    HeldCapture,
    Mark,
    PartMove,
    Picture,
    Proof,
    Reading,
    StateStamp,
    Unit,
    Unlike,
)
from tests.conftest import AS_SHIPPED
from tracecore.circuit.probe_sheet import Probe, ProbeSheet

SAVED = Path(__file__).parent / "saved"
HELD = HeldCapture(
    "k1",
    "north.csv",
    "/bench/north.csv",
    "ab" * 32,
    1234,
    "sampled rows",
    41_667,
    0,
    10**9,
    ("MCLK", "D03"),
    facts=(("Sample rate", "24 MHz"),),
    sample_rate="24000000",
    shades=("0" * 100, "9" * 100),
)
FULL = (
    NameCase("South crate stops at the third fetch", "14"),
    SetUnit("good", Unit("north crate", "2", "7", "")),
    SetUnit("suspect", Unit("south crate", "1", "7", "warm")),
    AddCaptures("good", (HELD,)),
    AddCaptures("suspect", (replace(HELD, key="k2", name="south.csv"),)),
    SetSheet(ProbeSheet((Probe("MCLK", "MCLK", "7", "A02"), Probe("D03", "D03", "7", "B04", bit=3)), "sheet.csv")),
    SetClock("MCLK", "falling"),
    SetOffset(12),
    Put(Mark(0, "question", "why here?", 1004, 1009, ("D03",), start_ps=5, stop_ps=9, author="R.")),
    Put(Picture(0, "slot7.jpg", "cd" * 32, "ef" * 32, 800, 600, "Slot 7 under the lamp")),
    Put(
        Entry(
            0,
            "measured",
            "6-B22 to 7-B04: 180 Ω",
            "R.",
            "2026-02-04T14:30:00+01:00",
            cycle=1004,
            helped=False,
            because=(1,),
            marks=(1,),
            pictures=(1,),
            figure=Figure("D03", 1004),
            readings=(Reading("6-B22 to 7-B04", "0.2", "180"),),
            proof=Proof(0, 300),
        )
    ),
    Put(PartMove(0, "7474", "donor board, U31", "slot 7, U14", "7338", 1)),
    Put(StateStamp(0, "repaired", "2026-02-09T13:20:00+01:00", "R.")),
    Put(BenchCard(0, "14-1", "D03", 1004, "stuck", (CardRow("off", "6-B22", "", "0.2", "1", "ohm"),), (("180",),))),
    Put(Unlike(0, "0123456789abcdef")),
)


def kept(store: CaseStore, *changes: object) -> OpenCase:
    """The case after some changes, each kept."""
    case = store.read()
    for change in changes:
        case = change.applied(case)
        store.keep(change.words, "R.", case)
    return case


def dumped(path: Path) -> list[str]:
    """All tables and rows of a file as SQL."""
    connection = sqlite3.connect(path)
    try:
        return list(connection.iterdump())
    finally:
        connection.close()


def fill(store: CaseStore, lines: int) -> None:
    """Long log lines, one change each."""
    for _ in range(lines):
        kept(store, Put(Entry(0, "seen", "x" * 20_000)))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "case.twinslot"


def test_all_that_a_case_holds_comes_back(path: Path) -> None:
    store = CaseStore.open(path, author="R.")
    case = kept(store, *FULL)
    store.close()
    store = CaseStore.open(path)
    assert store.read() == case
    assert case_of(items_of(case)) == (case, ())
    assert case.opened_by == "R."
    assert case.state == "repaired"
    assert len(case.identity) == 16
    assert [step.words for step in store.history("sheet")] == ["change the probe sheet"]
    step = store.history("sheet")[0]
    assert '"B04"' in (store.item_after(step.n, "sheet") or "")
    store.close()
    assert sorted(p.name for p in path.parent.iterdir()) == ["case.twinslot"]


def test_undo_and_redo_work_across_openings(path: Path) -> None:
    store = CaseStore.open(path)
    cases = [store.read()]
    for change in FULL:
        cases.append(kept(store, change))
    for expected in reversed(cases[:-1]):
        store.close()
        store = CaseStore.open(path)
        assert store.undo()[1] == expected
    assert store.undo() is None
    assert store.can_redo == "name the case"
    for expected in cases[1:]:
        store.close()
        store = CaseStore.open(path)
        assert store.redo()[1] == expected
    assert store.redo() is None
    store.close()


def test_what_was_taken_back_and_then_left_stays_in_the_history(path: Path) -> None:
    store = CaseStore.open(path)
    kept(store, SetOffset(5))
    store.undo()
    kept(store, SetOffset(6))
    assert (store.can_redo, [step.standing for step in store.history()]) == ("", ["left", "done"])
    store.close()


def test_a_compound_change_is_taken_back_as_one(path: Path) -> None:
    store = CaseStore.open(path)
    before = store.read()
    after = kept(store, Together("write it down", (Put(Entry(0, "seen", "a")), Put(StateStamp(0, "open")))))
    assert (len(after.entries), len(after.stamps)) == (1, 1)
    assert store.undo() == ("write it down", before)
    store.close()


def test_numbers_count_on_and_values_are_replaced_or_dropped(path: Path) -> None:
    store = CaseStore.open(path)
    case = kept(store, *(Put(Mark(0, "question", str(i), i, i)) for i in range(12)))
    assert [m.id for m in case.marks] == list(range(1, 13))
    case = kept(store, Put(replace(case.marks[4], note="other")), Drop(case.marks[0]))
    assert (case.marks[3].note, len(case.marks)) == ("other", 11)
    store.close()
    # ten comes after nine although it is text in the file
    store = CaseStore.open(path)
    assert [m.id for m in store.read().marks] == list(range(2, 13))
    store.close()


# ---- a disk that says no


def test_a_change_is_on_the_disk_before_the_next_begins(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(database, "SYNCHRONOUS", AS_SHIPPED)
    with closing(CaseStore.open(path)) as store:
        waits = store._connection.execute("PRAGMA synchronous").fetchone()[0]
    assert waits == 2  # FULL, as SQLite numbers them


def test_a_full_disk_keeps_all_but_the_change_in_flight(path: Path) -> None:
    store = CaseStore.open(path)
    case = kept(store, Put(Entry(0, "seen", "first")))
    pages = store._connection.execute("PRAGMA page_count").fetchone()[0]
    store._connection.execute(f"PRAGMA max_page_count={pages}")
    with pytest.raises(DiskFull, match=r"case\.twinslot: the disk is full, so the last change was not kept"):
        kept(store, Put(Entry(0, "seen", "x" * 100_000)))
    assert store.read() == case
    store._connection.execute("PRAGMA max_page_count=1000000")
    assert len(kept(store, Put(Entry(0, "seen", "second"))).entries) == 2
    store.close()


def test_a_full_file_system(tmp_path: Path) -> None:
    """The same on a real file system of 512 kB, where the system lets a test mount one."""
    if sys.platform != "linux" or os.geteuid() != 0:
        pytest.skip("mounting needs Linux and root")
    small = tmp_path / "small"
    small.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=512k", "tmpfs", small], capture_output=True).returncode:
        pytest.skip("this system does not let a test mount a file system")
    try:
        store = CaseStore.open(small / "case.twinslot")
        with pytest.raises(DiskFull):
            fill(store, 200)
        count = len(store.read().entries)
        assert 1 < count < 30
        store.close()
        store = CaseStore.open(small / "case.twinslot")
        assert len(store.read().entries) == count
        store.close()
    finally:
        subprocess.run(["umount", small], check=True)


def test_a_case_that_is_open_elsewhere(path: Path) -> None:
    program = f"from app.case.store import CaseStore; CaseStore.open({str(path)!r}); print('open', flush=True); input()"
    other = subprocess.Popen([sys.executable, "-c", program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    try:
        assert other.stdout.readline() == "open\n"
        with pytest.raises(CaseBusy, match="is open in another window or command"):
            CaseStore.open(path)
        with pytest.raises(CaseBusy):
            CaseStore.open(path, look_only=True)
    finally:
        other.kill()
        other.wait()
        other.stdin.close()
        other.stdout.close()
    CaseStore.open(path).close()


def test_two_threads_take_turns(path: Path) -> None:
    store = CaseStore.open(path)
    case = store.read()

    def put_in() -> None:
        store.begin_blob("aa", 1)
        for part in range(40):
            store.add_blob_part("aa", part, b"x" * 1000)
        store.end_blob("aa")

    worker = threading.Thread(target=put_in)
    worker.start()
    for number in range(40):
        case = Put(Entry(0, "seen", str(number))).applied(case)
        store.keep("log entry", "R.", case)
    worker.join()
    assert len(store.read().entries) == 40
    assert sum(map(len, store.blob_parts("aa"))) == 40_000
    store.close()


def test_a_file_that_can_be_read_only(path: Path) -> None:
    store = CaseStore.open(path)
    case = kept(store, Put(Entry(0, "seen", "first")))
    store.close()
    before = path.read_bytes()
    store = CaseStore.open(path, look_only=True)
    assert store.read() == case
    with pytest.raises(CaseReadOnly, match="can be read only, so the change was not kept"):
        kept(store, Put(Entry(0, "seen", "second")))
    with pytest.raises(CaseReadOnly):
        store.undo()
    store.close()
    assert path.read_bytes() == before


def test_a_folder_that_cannot_be_written(path: Path) -> None:
    if sys.platform != "linux" or os.geteuid() != 0:
        path.touch()
        path.parent.chmod(0o500)
        try:
            with pytest.raises(CaseError):
                CaseStore.open(path)
        finally:
            path.parent.chmod(0o700)
        return
    folder = path.parent / "locked"
    folder.mkdir()
    CaseStore.open(folder / "case.twinslot").close()
    if subprocess.run(["mount", "--bind", folder, folder], capture_output=True).returncode:
        pytest.skip("this system does not let a test mount a folder")
    try:
        subprocess.run(["mount", "-o", "remount,bind,ro", folder], check=True, capture_output=True)
        store = CaseStore.open(folder / "case.twinslot")
        assert store.read_only
        store.close()
        with pytest.raises(CaseError, match="new"):
            CaseStore.open(folder / "new.twinslot")
    finally:
        subprocess.run(["umount", folder], check=True)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda p: p.mkdir(), "is a folder; expected a case file"),
        (lambda p: p.write_text("time,a\n0,1\n" * 900), "found bytes that are no sound case file"),
        (lambda p: sqlite3.connect(p).execute("CREATE TABLE t(a)").connection.close(), "a database of another program"),
    ],
)
def test_a_file_that_is_no_case(path: Path, make: object, words: str) -> None:
    make(path)
    before = path.read_bytes() if path.is_file() else b""
    with pytest.raises(CaseError, match=words):
        CaseStore.open(path)
    assert not path.is_file() or path.read_bytes() == before


def test_a_case_that_is_not_there_is_made_only_where_that_is_wanted(path: Path) -> None:
    with pytest.raises(CaseError, match="there is no such case"):
        CaseStore.open(path, make=False)
    with pytest.raises(CaseError, match=r"the folder .* is not there"):
        CaseStore.open(path.parent / "no" / "case.twinslot")
    assert not path.exists()


def test_a_case_of_a_newer_version(path: Path) -> None:
    CaseStore.open(path).close()
    connection = sqlite3.connect(path)
    connection.execute(f"PRAGMA user_version={schema.VERSION + 1}")
    connection.close()
    before = path.read_bytes()
    with pytest.raises(CaseTooNew, match=f"version {schema.VERSION + 1}; this program knows up to {schema.VERSION}"):
        CaseStore.open(path)
    assert path.read_bytes() == before


# ---- migration


@pytest.mark.parametrize("version", range(1, schema.VERSION + 1))
def test_a_saved_case_of_every_version_opens(tmp_path: Path, version: int) -> None:
    path = tmp_path / "case.twinslot"
    shutil.copyfile(SAVED / f"version{version}.twinslot", path)
    store = CaseStore.open(path, look_only=True)
    assert store.read().title == "South crate stops at the third fetch"
    assert store.comparisons() == () or version > 1
    store.close()
    store = CaseStore.open(path)
    case = store.read()
    assert store.trouble == ()
    assert [e.text for e in case.entries] == ["6-B22 to 7-B04: 180 Ω"]
    assert case.sheet.probe("D03").pin == "B04"
    assert case.settings.offset == 12
    assert store._connection.execute("PRAGMA user_version").fetchone()[0] == schema.VERSION
    kept(store, Put(Entry(0, "done", "wire wrapped anew")))
    store.save_comparison("q", "{}")
    store.undo()
    assert store.undo()[0] == "case not alike"
    store.close()


def test_a_migration_that_fails_leaves_the_file_as_it_was(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    CaseStore.open(path).close()
    before = dumped(path)
    monkeypatch.setattr(schema, "STEPS", (*schema.STEPS, "CREATE TABLE more(a); CREATE TABLE item(a)"))
    monkeypatch.setattr(schema, "VERSION", schema.VERSION + 1)
    with pytest.raises(CaseError):
        CaseStore.open(path)
    monkeypatch.undo()
    assert dumped(path) == before
    CaseStore.open(path).close()


# ---- rescue


def test_rescue_brings_back_what_is_left_of_a_torn_file(path: Path) -> None:
    store = CaseStore.open(path)
    lines = [Put(Entry(0, "seen", f"line {i} " + "x" * 400)) for i in range(200)]
    case = kept(store, *FULL, *lines)
    store.close()
    raw = bytearray(path.read_bytes())
    page = schema.PAGE_BYTES
    # every page in turn would take long: one in the middle, and then the first
    middle = len(raw) // page // 2 * page
    raw[middle : middle + page] = b"\xa5" * page
    path.write_bytes(raw)
    out = path.with_name("rescued.twinslot")
    rescue(path, out)
    store = CaseStore.open(out)
    back = store.read()
    store.close()
    assert back.title == case.title
    assert len(back.entries) >= 180
    assert set(back.entries) <= set(case.entries)
    assert path.read_bytes() == bytes(raw)


def test_rescue_with_a_torn_first_page(path: Path) -> None:
    store = CaseStore.open(path)
    case = kept(store, *FULL)
    store.close()
    raw = bytearray(path.read_bytes())
    raw[: schema.PAGE_BYTES] = b"\0" * schema.PAGE_BYTES
    path.write_bytes(raw)
    with pytest.raises(CaseDamaged):
        CaseStore.open(path)
    out = path.with_name("rescued.twinslot")
    rescue(path, out)
    store = CaseStore.open(out)
    assert store.read() == case
    store.close()


def test_rescue_of_what_was_never_a_case(path: Path) -> None:
    path.write_bytes(b"time,a\n" * 4000)
    with pytest.raises(CaseDamaged, match="nothing in it can be read as a case"):
        rescue(path, path.with_name("out.twinslot"))
    assert not path.with_name("out.twinslot").exists()


def test_no_single_torn_page_makes_the_rescue_fail(path: Path) -> None:
    store = CaseStore.open(path)
    case = kept(store, *FULL, *(Put(Entry(0, "seen", f"{i} " + "x" * 900)) for i in range(30)))
    store.close()
    whole, page = path.read_bytes(), schema.PAGE_BYTES
    for number in range(len(whole) // page):
        raw = bytearray(whole)
        raw[number * page : (number + 1) * page] = bytes(page)
        path.write_bytes(raw)
        out = path.with_name(f"out{number}.twinslot")
        rescue(path, out)
        store = CaseStore.open(out)
        back = store.read()
        store.close()
        assert set(back.entries) <= set(case.entries)
        # the log stands twice in the file, as items and as history: no one page holds both
        assert len(back.entries) == len(case.entries), number

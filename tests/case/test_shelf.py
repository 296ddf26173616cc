"""Captures of a case: whole on another machine, read when looked at, known by their hash where they stay outside."""

from __future__ import annotations

import gzip
import os
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from app.case.activity_thumbnail import WIDTH, shades
from app.case.changes import AddCaptures, LeaveAlone, MoveCapture, ReplaceCapture
from app.case.errors import CaptureAbsent, CaseDamaged, NotAgreed
from app.case.lead_corrections import MendLeads
from app.case.photos import ENDS, FORMATS, photo_bytes, take_photo
from app.case.shelf import PART_BYTES, Shelf, hold
from app.case.store import CaseStore
from tests.case.test_store import kept
from tracecore.capture import Capture, digital_trace
from tracecore.errors import RequestError
from tracecore.readers import read_capture

ROWS = "MCLK,D03\n" + "0,0\n1,0\n0,1\n1,1\n" * 200


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "away" / "north.csv"
    path.parent.mkdir()
    path.write_text("# Sample rate: 24 MHz\n" + ROWS, "utf-8")
    return path


@pytest.fixture
def store(tmp_path: Path) -> CaseStore:
    made = CaseStore.open(tmp_path / "case.twinslot")
    yield made
    made.close()


def same(one: Capture, other: Capture) -> bool:
    """Do two captures hold the same samples under the same names?"""
    return list(one.digital) == list(other.digital) and all(
        (a.times_ps == b.times_ps).all() and (a.levels == b.levels).all() and a.stop_ps == b.stop_ps
        for a, b in zip(one.digital.values(), other.digital.values(), strict=True)
    )


@pytest.mark.parametrize("squeeze", [False, True])
def test_a_case_is_whole_without_the_file(store: CaseStore, file: Path, squeeze: bool) -> None:
    if squeeze:
        file = file.with_suffix(".gz")
        file.write_bytes(gzip.compress(ROWS.replace("MCLK", "# Sample rate: 24 MHz\nMCLK", 1).encode(), mtime=0))
    capture = read_capture(file)
    held = hold(capture)
    shelf = Shelf(store)
    assert not shelf.wants_in(held)
    shelf.agree((held,))
    assert shelf.wants_in(held)
    shelf.take_in(held)
    assert not shelf.wants_in(held)
    kept(store, AddCaptures("good", (held,)))
    file.unlink()
    store.close()
    again = CaseStore.open(store.path)
    store._connection = again._connection
    shelf = Shelf(store)
    (held,) = store.read().good.captures
    assert shelf.loaded(held) is None
    assert same(shelf.load(held), capture)
    assert shelf.loaded(held) is shelf.load(held)
    assert shelf.load(held).path == held.path


def test_what_a_person_said_of_a_file_is_kept(store: CaseStore, tmp_path: Path) -> None:
    path = tmp_path / "plain.csv"
    path.write_text(ROWS, "utf-8")
    rate = Fraction(25_000_000, 3)
    capture = read_capture(path, sample_rate=rate)
    held = hold(capture, sample_rate=rate)
    shelf = Shelf(store)
    shelf.take_in(held)
    path.unlink()
    assert same(shelf.load(held), capture)
    assert capture.resolution_ps == 120_000


def test_a_large_capture_stays_outside_and_is_found_again(store: CaseStore, file: Path) -> None:
    held = hold(read_capture(file))
    with pytest.raises(NotAgreed, match="It is read only after you agree to that path"):
        Shelf(store).load(held)
    Shelf(store).agree((held,))
    assert not Shelf(store).wants_in(held, largest_bytes=100)
    assert Shelf(store).load(held).channels == ("MCLK", "D03")
    # the stick is at another place now; the file lies beside the case
    file.rename(store.path.parent / file.name)
    assert Shelf(store).load(held).channels == ("MCLK", "D03")
    (store.path.parent / file.name).unlink()
    with pytest.raises(CaptureAbsent, match=r"north\.csv: its file .*away/north\.csv is not there; it stays outside"):
        Shelf(store).load(held)


def test_another_file_of_the_same_name_is_not_taken(store: CaseStore, file: Path) -> None:
    held = hold(read_capture(file))
    Shelf(store).agree((held,))
    file.write_text(file.read_text("utf-8").replace("0,1", "0,0", 1), "utf-8")
    with pytest.raises(CaptureAbsent, match="is not the same file any more"):
        Shelf(store).load(held)
    with pytest.raises(CaptureAbsent, match="is not the same file any more"):
        Shelf(store).take_in(held)
    # nothing of the other file stays behind in the case
    assert store._connection.execute("SELECT count(*) FROM blob_part").fetchone()[0] == 0
    assert not store.has_blob(held.sha256)


def test_putting_in_that_was_cut_off_leaves_nothing(store: CaseStore, file: Path) -> None:
    file.write_text("# Sample rate: 24 MHz\n" + ROWS * 1, "utf-8")
    with file.open("a", encoding="utf-8") as more:
        more.write("0,1\n1,0\n" * (PART_BYTES // 8 + 1000))
    held = hold(read_capture(file))

    def stop(share: float, words: str) -> None:
        raise InterruptedError

    with pytest.raises(InterruptedError):
        Shelf(store).take_in(held, stop)
    assert not store.has_blob(held.sha256)
    store.close()
    store._connection = CaseStore.open(store.path)._connection
    assert store._connection.execute("SELECT count(*) FROM blob_part").fetchone()[0] == 0
    Shelf(store).take_in(held)
    file.unlink()
    assert Shelf(store).load(held).sha256 == held.sha256


def test_a_part_that_was_tampered_with_is_told(store: CaseStore, file: Path) -> None:
    held = hold(read_capture(file))
    shelf = Shelf(store)
    shelf.take_in(held)
    store._connection.execute("UPDATE blob_part SET data = X'00'")
    with pytest.raises(CaseDamaged, match=r"north\.csv: a part of it in the case cannot be unpacked"):
        Shelf(store).load(held)


def test_another_name_serves_the_same_samples(store: CaseStore, file: Path) -> None:
    from dataclasses import replace

    capture = read_capture(file)
    held = hold(capture)
    shelf = Shelf(store)
    shelf.add(held, capture)
    renamed = shelf.loaded(replace(held, name="warm, first try"))
    assert renamed.name == "warm, first try"
    assert renamed.digital["MCLK"] is capture.digital["MCLK"]


def test_swapped_leads_read_the_other_pin_in_that_capture_only(store: CaseStore, file: Path) -> None:
    capture = read_capture(file)
    held, other = hold(capture), hold(capture)
    shelf = Shelf(store)
    shelf.add(held, capture)
    case = kept(store, AddCaptures("good", (other,)), AddCaptures("suspect", (held,)))
    question = case.question
    case = kept(store, MendLeads(held.key, (("MCLK", "D03"), ("D03", "MCLK"))))
    assert case.question != question
    swapped = shelf.loaded(case.suspect.captures[0])
    assert swapped.channels == capture.channels
    assert swapped.digital["D03"] is capture.digital["MCLK"]
    assert shelf.loaded(case.good.captures[0]).digital["D03"] is capture.digital["D03"]
    case = kept(store, MendLeads(held.key, (("D03", "MCLK"), ("MCLK", "D03"))))
    assert case.question == question


def test_a_capture_moves_is_replaced_and_left_alone(store: CaseStore, file: Path) -> None:
    one, two = hold(read_capture(file)), hold(read_capture(file))
    case = kept(store, AddCaptures("good", (one,)), MoveCapture("good", 0))
    assert (case.good.captures, case.suspect.captures) == ((), (one,))
    case = kept(store, LeaveAlone(one.key, "swap D03 MCLK"))
    assert case.suspect.captures[0].left_alone == ("swap D03 MCLK",)
    case = kept(store, ReplaceCapture("suspect", 0, two))
    assert case.suspect.captures == (two,)


def test_shades_tell_still_from_busy() -> None:
    busy = digital_trace(np.arange(0, 2000, 2), np.arange(1000) % 2, 2000)
    late = digital_trace(np.array([0, 1990]), np.array([0, 1]), 2000)
    still = digital_trace(np.array([0]), np.array([1]), 2000)
    rows = shades(Capture("c", {"busy": busy, "late": late, "still": still}, {}, 2, "by hand"))
    assert rows[2] == "0" * WIDTH
    assert set(rows[0]) <= {"9"}
    assert rows[1] == "0" * (WIDTH - 1) + "9"


def test_what_the_window_offers_as_a_photo_is_of_a_kind_that_a_case_takes() -> None:
    from PIL import Image

    known = Image.registered_extensions()
    assert {known[end] for end in ENDS} == set(FORMATS)


def test_a_photo_is_scaled_and_loses_what_a_camera_wrote(store: CaseStore, tmp_path: Path) -> None:
    from PIL import Image

    path = tmp_path / "slot7.jpg"
    exif = Image.Exif()
    exif[306] = "2026:02:09 13:20:00"
    exif[274] = 6
    exif[271] = "a maker"
    noise = Image.frombytes("RGB", (2400, 1200), os.urandom(2400 * 1200 * 3))
    noise.save(path, "JPEG", exif=exif)
    picture = take_photo(path, store, "Slot 7 under the lamp")
    assert (picture.width, picture.height) == (800, 1600)
    assert picture.taken == "2026:02:09 13:20:00"
    data = photo_bytes(store, picture.stored)
    assert b"a maker" not in data
    assert len(data) < path.stat().st_size
    with pytest.raises(RequestError, match="found no picture"):
        take_photo(__file__, store)
    with pytest.raises(RequestError, match="cannot be read"):
        take_photo(tmp_path / "none.jpg", store)

"""Work that nobody has named yet is kept too."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.case.changes import NameCase, Put
from app.case.scratch import is_scratch, let_go, open_scratch, scratch_folder
from app.case.store import CaseStore
from app.case.values import Entry
from tests.case.test_store import kept


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("TWINSLOT_SETTINGS", str(tmp_path))
    return tmp_path / "unnamed"


def test_an_unnamed_case_is_found_again(folder: Path) -> None:
    store = open_scratch("R.")
    assert is_scratch(store)
    case = kept(store, NameCase("South crate"), Put(Entry(0, "seen", "stops")))
    let_go(store)
    store = open_scratch(carry_on=True)
    assert store.read() == case
    let_go(store)
    assert [p.name for p in folder.iterdir()] == ["unnamed.twinslot"]


def test_a_second_window_gets_a_file_of_its_own(folder: Path) -> None:
    first = open_scratch(carry_on=True)
    kept(first, NameCase("one"), NameCase("two"))
    second = open_scratch(carry_on=True)
    assert second.path != first.path
    assert second.read().title != "two"
    let_go(second)
    let_go(first)
    assert [p.name for p in folder.iterdir()] == ["unnamed.twinslot"]


def test_a_case_in_which_only_files_were_opened_is_thrown_away(folder: Path) -> None:
    store = open_scratch()
    kept(store, NameCase("the files of a demo"))
    let_go(store)
    assert list(folder.iterdir()) == []


def test_a_damaged_one_is_left_where_it_is(folder: Path) -> None:
    folder.mkdir()
    (folder / "unnamed.twinslot").write_bytes(b"x" * 9000)
    store = open_scratch(carry_on=True)
    assert store.path.name == "unnamed-2.twinslot"
    let_go(store)
    assert (folder / "unnamed.twinslot").read_bytes() == b"x" * 9000


def test_a_folder_that_cannot_be_made_gives_a_case_in_memory(folder: Path) -> None:
    folder.write_text("a file stands in the way", "utf-8")
    store = open_scratch()
    assert store.path is None
    kept(store, NameCase("in memory"))
    let_go(store)


def test_a_named_case_is_never_thrown_away(tmp_path: Path) -> None:
    store = CaseStore.open(tmp_path / "case.twinslot")
    assert not is_scratch(store)
    let_go(store)
    assert (tmp_path / "case.twinslot").exists()
    assert scratch_folder() == tmp_path / "unnamed"

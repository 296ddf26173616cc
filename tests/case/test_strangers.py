"""A case may come from anybody: nothing in it is run, nothing outside it is read unasked, every value is checked."""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
import zlib
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from app.__main__ import main
from app.case.changes import AddCaptures, Put
from app.case.errors import CaseDamaged, CaseError, NotAgreed
from app.case.items import MOST_TOLD
from app.case.photos import photo_bytes, take_photo
from app.case.rescue import rescue
from app.case.shelf import Shelf, hold
from app.case.store import CaseStore
from app.case.values import Entry
from tests.case.crafted import Alteration, objects, sound_case, wrong_fields, wrong_values
from tests.case.test_store import FULL, dumped, kept
from tests.thinned import thinned
from tracecore.errors import RequestError
from tracecore.readers import read_capture

MANY = int(os.environ.get("TWINSLOT_LONG_EXAMPLES", "1000000"))


def status(*words: str) -> int:
    try:
        return main(list(words)) or 0
    except SystemExit as stop:
        return int(stop.code or 0)


def wrong_ends(path: Path, capsys: pytest.CaptureFixture[str]) -> list[str]:
    """Runs each command that opens a case, in a folder of its own; what none of them may do."""
    out = path.with_suffix(".out")
    lines = (
        ("log", str(path)),
        ("report", str(path), "--out", str(out / "report")),
        ("enter", str(path), "a line"),
        ("rescue", str(path), str(out.with_suffix(".new"))),
        ("earlier", str(path.parent), "Crate"),
    )
    wrong = []
    for line in lines:
        found = status(*line)
        said = capsys.readouterr()
        for odd in ("Traceback", "did not foresee", "\x1b", "\u202e", "\x07"):
            if odd in said.out + said.err:
                wrong.append(f"{line[0]}: {odd!r}: {said.err[-300:]}")
        if found not in (0, 1, 2):
            wrong.append(f"{line[0]}: status {found}")
    return wrong


def tried(alterations: list[Alteration], sound: Path, folder: Path, capsys: pytest.CaptureFixture[str]) -> list[str]:
    """What went wrong with each of these."""
    wrong = []
    for n, alteration in enumerate(alterations):
        own = folder / f"altered{n}"
        own.mkdir()
        wrong += [
            f"{alteration.what}: {end}" for end in wrong_ends(alteration.made(sound, own / "case.twinslot"), capsys)
        ]
        shutil.rmtree(own)
    return wrong


@pytest.mark.parametrize("some", [4, pytest.param(MANY, marks=pytest.mark.long)])
def test_values_of_a_wrong_type_are_a_sentence_and_no_crash(tmp_path: Path, capsys, some: int) -> None:
    sound = sound_case(tmp_path / "sound.twinslot")
    made = [*wrong_values(), *wrong_fields(sound)]
    assert tried(random.Random(5).sample(made, min(some, len(made))), sound, tmp_path, capsys) == []


SEEN_TO_FAIL = (
    "change_item.id = b'\\xff\\x00'",
    "entries 1: kind = None",
    "sample_rate = '0'",
    'pins : rows.0.pin = "\\x1b',
    "wires : rows.0.inputs = []",
)
"""Of the whole run these, or their like, ended in what nobody foresaw: a history without a text for a number, a part
that belongs to an entry that is lost, a rate of nothing, a pin that is none, a gate without inputs."""


@pytest.mark.parametrize("what", thinned(SEEN_TO_FAIL))
def test_what_once_failed_is_a_sentence_now(tmp_path: Path, capsys, what: str) -> None:
    sound = sound_case(tmp_path / "sound.twinslot")
    made = [alteration for alteration in (*wrong_values(), *wrong_fields(sound)) if what in alteration.what]
    assert made
    assert tried(made[:1], sound, tmp_path, capsys) == []


def test_objects_that_no_case_has_are_refused_and_nothing_is_written(tmp_path: Path) -> None:
    sound = sound_case(tmp_path / "sound.twinslot")
    for n, alteration in enumerate(objects()):
        path = alteration.made(sound, tmp_path / f"object_{n}.twinslot")
        before = path.read_bytes()
        with pytest.raises(CaseError, match=r"which is not as a case has it|is lacking"):
            CaseStore.open(path)
        assert path.read_bytes() == before, alteration.what
        back = rescue(path, path.with_suffix(".new"))
        assert back.items or alteration.what.startswith("ALTER TABLE item RENAME"), alteration.what


def test_a_sound_case_has_nothing_to_tell(tmp_path: Path) -> None:
    store = CaseStore.open(sound_case(tmp_path / "sound.twinslot"))
    store.read()
    assert store.trouble == ()
    store.close()


def test_opening_reads_no_file_that_the_case_names(tmp_path: Path) -> None:
    private = tmp_path / "private.csv"
    private.write_text("# Sample rate: 1 MHz\nA,B\n" + "0,1\n1,0\n" * 50, "utf-8")
    held = hold(read_capture(private))
    store = CaseStore.open(tmp_path / "mail.twinslot")
    case = kept(store, AddCaptures("good", (replace(held, sha256="0" * 64),)), AddCaptures("suspect", (held,)))
    shelf = Shelf(store)
    for capture in case.captures:
        assert not shelf.wants_in(capture)
        with pytest.raises(NotAgreed):
            shelf.load(capture)
    assert shelf.unagreed(case.captures) == (private,)
    shelf.agree(case.captures)
    # a yes does not make another file the one that the case names
    with pytest.raises(CaseError, match="is not the same file any more"):
        shelf.take_in(case.captures[0])
    assert not store.has_blob("0" * 64)
    assert Shelf(store).load(case.captures[1]).channels == ("A", "B")
    store.close()


def test_the_command_line_reads_linked_files_only_with_a_yes(tmp_path: Path, capsys) -> None:
    for name in ("good", "bad"):
        (tmp_path / f"{name}.csv").write_text("# Sample rate: 1 MHz\nCLK,B\n" + "0,1\n1,0\n" * 50, "utf-8")
    case = tmp_path / "mail.twinslot"
    store = CaseStore.open(case)
    sides = [hold(read_capture(tmp_path / f"{name}.csv")) for name in ("good", "bad")]
    kept(store, AddCaptures("good", (sides[0],)), AddCaptures("suspect", (replace(sides[1], key="k"),)))
    store.close()
    status("report", str(case), "--out", str(tmp_path / "out"))
    assert "It is read only after you agree to that path" in capsys.readouterr().err
    status("report", str(case), "--out", str(tmp_path / "out"), "--linked")
    assert "only after you agree" not in capsys.readouterr().err


def test_what_unpacks_without_end_is_given_up(tmp_path: Path) -> None:
    store = CaseStore.open(tmp_path / "case.twinslot")
    bomb = zlib.compress(b"\0" * (200 << 20), 9)
    held = replace(FULL[3].captures[0], sha256="ab" * 32, size_bytes=100)
    store.begin_blob(held.sha256, 100)
    store.add_blob_part(held.sha256, 0, bomb)
    store.end_blob(held.sha256)
    with pytest.raises(CaseDamaged, match="unpacks to more than"):
        Shelf(store).load(held)
    with pytest.raises(CaseDamaged, match="unpacks to more than"):
        photo_bytes(store, held.sha256)
    store.close()


def test_photos_are_of_four_kinds_and_of_a_bounded_size(tmp_path: Path, recwarn: pytest.WarningsRecorder) -> None:
    from PIL import Image

    store = CaseStore.in_memory()
    (tmp_path / "drawing.jpg").write_bytes(b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\nshowpage\n")
    with pytest.raises(RequestError, match="expected JPEG, PNG, WebP or TIFF"):
        take_photo(tmp_path / "drawing.jpg", store)
    Image.new("1", (13_000, 13_000)).save(tmp_path / "large.png")
    with pytest.raises(RequestError, match="13000 x 13000 pixels; at most 60 million are taken"):
        take_photo(tmp_path / "large.png", store)
    for kind in ("png", "jpg", "webp", "tiff"):
        Image.new("RGB", (40, 30), (9, 90, 200)).save(tmp_path / f"ok.{kind}")
        assert take_photo(tmp_path / f"ok.{kind}", store).width == 40
    store.close()
    assert not recwarn.list


@pytest.mark.parametrize("share", [0.6, 0.9])
def test_a_rescue_of_a_cut_file_brings_back_the_captures_before_the_cut(tmp_path: Path, share: float) -> None:
    path = tmp_path / "case.twinslot"
    store = CaseStore.open(path)
    chance = random.Random(3)
    files = []
    for n in range(8):
        file = tmp_path / f"c{n}.csv"
        rows = "".join(",".join(format(chance.getrandbits(16), "016b")) + "\n" for _ in range(20_000))
        file.write_text(f"# Sample rate: 1 MHz\n{','.join(f'S{k}' for k in range(16))}\n{rows}", "utf-8")
        files.append(hold(read_capture(file)))
    kept(store, *FULL, AddCaptures("good", tuple(files)), *(Put(Entry(0, "seen", f"line {n}")) for n in range(20)))
    shelf = Shelf(store)
    shelf.agree(files)
    for held in files:
        shelf.take_in(held)
    store.close()
    whole = path.read_bytes()
    path.write_bytes(whole[: int(share * len(whole))])
    found = rescue(path, tmp_path / "new.twinslot")
    assert found.captures >= int(8 * share) - 1
    store = CaseStore.open(tmp_path / "new.twinslot")
    back = store.read()
    assert len(back.entries) == 21
    read = [Shelf(store).load(held) for held in back.captures if store.has_blob(held.sha256)]
    assert len(read) == found.captures
    store.close()


def test_a_damaged_case_is_skipped_and_named_by_a_search(tmp_path: Path, capsys) -> None:
    sound = sound_case(tmp_path / "sound.twinslot")
    for n, alteration in enumerate(objects()):
        alteration.made(sound, tmp_path / f"object_{n}.twinslot")
    (tmp_path / "junk.twinslot").write_bytes(b"SQLite format 3\0" + b"\x01" * 5000)
    assert status("earlier", str(tmp_path), "fetch") == 0
    said = capsys.readouterr()
    assert "sound.twinslot" in said.out
    assert "object_0.twinslot: found the trigger t in it" in said.err.replace("\n", " ")
    assert "junk.twinslot" in said.err


def test_a_case_that_cannot_be_read_leaves_the_file_as_it_was(tmp_path: Path) -> None:
    sound = sound_case(tmp_path / "sound.twinslot")
    before = dumped(sound)
    for alteration in random.Random(6).sample(list(wrong_values()), 40):
        path = alteration.made(sound, tmp_path / "altered.twinslot")
        try:
            store = CaseStore.open(path, look_only=True)
        except CaseError:
            continue
        store.read()
        store.close()
    assert dumped(sound) == before


def altered(sound: Path, path: Path, *statements: tuple[object, ...]) -> Path:
    """A copy of a case, changed by some statements with their values."""
    path.parent.mkdir(exist_ok=True)
    shutil.copyfile(sound, path)
    with closing(sqlite3.connect(path)) as connection:
        for statement, *values in statements:
            connection.execute(str(statement), values)
        connection.commit()
    return path


UNREAD = {
    "sheet": ("UPDATE item SET body = '{' WHERE kind = 'sheet'", "sheet cannot be read (Expecting"),
    "line": ("UPDATE item SET body = '[]' WHERE kind = 'entries'", "entries 1 cannot be read (it is []"),
    "question": ("UPDATE item SET body = '7' WHERE kind = 'question'", "question cannot be read (it is 7"),
    "kind": ("INSERT INTO item VALUES('nothing', '4', '{}')", "nothing 4 is of no kind that is known"),
    "side": ("DELETE FROM item WHERE kind = 'side' AND id = 'suspect'", "is on no side"),
    "capture": (
        "DELETE FROM item WHERE kind = 'capture' AND id IN (SELECT id FROM item WHERE kind = 'capture' LIMIT 1)",
        " side is lacking",
    ),
}


@pytest.mark.parametrize("what", thinned(UNREAD))
def test_what_cannot_be_read_is_told_by_every_command(tmp_path: Path, capsys, what: str) -> None:
    """It was left out without a word, so that a report could clear a board for want of what accuses it."""
    statement, sentence = UNREAD[what]
    path = altered(sound_case(tmp_path / "sound.twinslot"), tmp_path / "in" / "case.twinslot", (statement,))
    out = tmp_path / "out"
    lines = {
        ("log", str(path)): 0,
        ("report", str(path), "--out", str(out)): 2,
        ("earlier", str(path.parent), "SUM"): 0 if what != "line" else 1,
        ("soak", str(tmp_path), "--case", str(path), "--stop-after", "1 ms"): 2,
        ("enter", str(path), "a line"): 0,
    }
    for words, expected in lines.items():
        assert status(*words) == expected, words
        said = " ".join(capsys.readouterr().err.split())
        assert sentence in said, words
        if words[0] == "soak":
            assert "nothing is watched against it. Bring back what can be read: twinslot rescue" in said
    assert "Not all of the case could be read" in (out / "report.html").read_text("utf-8")


def test_of_much_that_cannot_be_read_some_is_told_and_the_rest_is_counted(tmp_path: Path) -> None:
    sound = sound_case(tmp_path / "sound.twinslot")
    many = "WITH RECURSIVE n(i) AS (SELECT 100 UNION ALL SELECT i + 1 FROM n WHERE i < 3099) "
    path = altered(sound, tmp_path / "case.twinslot", (f"{many}INSERT INTO item SELECT 'entries', i, '7' FROM n",))
    store = CaseStore.open(path)
    case = store.read()
    store.close()
    assert len(case.unread) == MOST_TOLD
    assert case.unread[-1] == f"{3000 - MOST_TOLD + 1} more items cannot be read"
    assert len(case.entries) == 2


@pytest.mark.parametrize("limit", ["MOST_ITEMS", "MOST_TEXT"])
def test_more_than_memory_may_bear_is_refused_before_it_is_read(tmp_path: Path, monkeypatch, limit: str) -> None:
    path = sound_case(tmp_path / "sound.twinslot")
    before = path.read_bytes()
    monkeypatch.setattr(f"app.case.store.{limit}", 10)
    store = CaseStore.open(path, look_only=True)
    with pytest.raises(CaseDamaged, match=r"found \d+ items of .* Ask whoever sent it for a smaller case"):
        store.read()
    store.close()
    assert path.read_bytes() == before

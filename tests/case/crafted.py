"""Cases that somebody altered: each column and each field with values of other types, every kind of SQL object."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from app.case.changes import AddCaptures, Put, SetClock, SetOffset, SetSheet
from app.case.photos import take_photo
from app.case.setting_changes import SetBandwidth, SetSupply, SetTolerance
from app.case.shelf import Shelf, hold
from app.case.store import CaseStore
from app.case.values import Entry, Figure, Picture
from tests.case.test_circuit import CHANGES as CIRCUIT
from tests.case.test_store import FULL, kept
from tests.soak.small_captures import capture_text
from tracecore.circuit.probe_sheet import Probe, ProbeSheet
from tracecore.readers import read_capture

COLUMNS = {
    "item": ("kind", "id", "body"),
    "change": ("at", "author", "words", "standing"),
    "change_item": ("kind", "id", "before", "after"),
    "blob": ("size_bytes", "whole"),
    "blob_part": ("part", "data"),
    "comparison": ("at", "question", "record"),
    "kept": ("kind", "key", "body"),
}
ESCAPES = "\x1b[31m\x1b]0;title\x07\u202e<img src='file:///dev/zero'>\r\n=1+1"
WRONG: tuple[Any, ...] = (
    *(7, -1, 2**62, 1.5, "", "x", ESCAPES, "{}", "[1", "[]", "null", '{"a":' * 60),
    *(b"\xff\x00", b""),
)
"""What is put into a column."""
WRONG_FIELDS: tuple[Any, ...] = (
    *(7, -1, 0, 2**62, -(2**62), 10**30, 1e300, 0.5, True, None),
    *("x", "", "0", ESCAPES, [], {}, [[1]], ["x"]),
)
"""What is put into a field of an item: other types, and values of the same type that are far out."""
OBJECTS = (
    "CREATE TRIGGER t AFTER INSERT ON item BEGIN DELETE FROM item; END",
    "CREATE TRIGGER t BEFORE UPDATE ON change BEGIN SELECT RAISE(IGNORE); END",
    "CREATE VIEW v AS WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT i FROM n",
    "CREATE TABLE more(x)",
    "CREATE INDEX i ON item(body)",
    "ALTER TABLE item ADD COLUMN more TEXT",
    "ALTER TABLE item ADD COLUMN more TEXT GENERATED ALWAYS AS (body || body)",
    "CREATE VIRTUAL TABLE words USING fts5(body)",
    "DROP TABLE kept",
    "DROP TABLE blob_part; CREATE VIEW blob_part AS WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) "
    "SELECT i AS rowid, 'a' AS sha256, i AS part, x'00' AS data FROM n",
    "ALTER TABLE item RENAME TO other; CREATE VIEW item AS SELECT * FROM other",
)
"""What no case has; each alone would change or drop what is written, never end, or hide rows."""


@dataclass(frozen=True, slots=True)
class Alteration:
    """One thing that somebody did to a sound case; ``rest`` is done where the first statement breaks a key."""

    what: str
    statement: str
    values: tuple[Any, ...] = ()
    rest: str = ""

    def made(self, sound: Path, path: Path) -> Path:
        """A copy of the sound case, altered."""
        shutil.copyfile(sound, path)
        with closing(sqlite3.connect(path)) as connection:
            if not self.values:
                connection.executescript(self.statement)
                return path
            connection.execute("PRAGMA foreign_keys=OFF")
            try:
                connection.execute(self.statement, self.values)
            except sqlite3.IntegrityError:
                connection.execute(self.statement + self.rest, self.values)
            connection.commit()
        return path


def sound_case(path: Path) -> Path:
    """A case with something in each table and in each field: two captures that can be compared, a sheet, a circuit, a
    log with a photo and a figure."""
    files = []
    for name, text in (("good", capture_text()), ("suspect", capture_text(5, wrong=True))):
        file = path.with_name(f"{path.stem}_{name}.csv")
        file.write_text(text, "utf-8")
        files.append(hold(read_capture(file)))
    store = CaseStore.open(path, author="R.")
    picture = take_photo(_picture(path.with_name("photo.png")), store)
    sheet = ProbeSheet(tuple(Probe(n, n, "7", f"A0{k}", bit=k) for k, n in enumerate(("CLK", "B0", "SUM"), 1)))
    kept(
        store,
        *(change for change in FULL if not _replaced(change)),
        AddCaptures("good", (files[0],)),
        AddCaptures("suspect", (files[1],)),
        *CIRCUIT,
        *(SetTolerance(20_000), SetSupply(5.1), SetBandwidth(20e6)),
        Put(picture),
        Put(Entry(0, "suspected", "SUM at 7-A03", "R.", cycle=44, pictures=(1,), figure=Figure("SUM", 44))),
        *(SetSheet(sheet), SetClock("CLK"), SetOffset(0)),
    )
    shelf = Shelf(store)
    shelf.agree(files)
    for held in files:
        shelf.take_in(held)
        # so that opening asks nothing about it
        Path(held.path).unlink()
    store.undo()
    store.redo()
    store.save_comparison("[]", json.dumps({"schema": "twinslot.comparison/1"}))
    store.remember("checkup", "k", "{}")
    store.close()
    return path


def _replaced(change: object) -> bool:
    """Does a case that can be compared have something else there?"""
    return isinstance(change, AddCaptures) or isinstance(getattr(change, "value", None), Picture)


def _picture(path: Path) -> Path:
    from PIL import Image

    Image.new("RGB", (64, 48), "#446644").save(path)
    return path


def wrong_values() -> Iterator[Alteration]:
    """Each column with each wrong value, in all rows of the table, or in one where a key must differ."""
    for table, columns in COLUMNS.items():
        for column in columns:
            for value in WRONG:
                yield Alteration(
                    f"{table}.{column} = {value!r:.20}",
                    f"UPDATE {table} SET {column} = ?",
                    (value,),
                    f" WHERE rowid = (SELECT max(rowid) FROM {table})",
                )


def wrong_fields(sound: Path) -> Iterator[Alteration]:
    """Each field of each item, and of what stands inside it, with each other value."""
    with closing(sqlite3.connect(sound)) as connection:
        rows = connection.execute("SELECT rowid, kind, id, body FROM item ORDER BY rowid").fetchall()
    for rowid, kind, number, body in rows:
        whole = json.loads(body)
        for way in _ways(whole):
            for value in WRONG_FIELDS:
                yield Alteration(
                    f"{kind} {number}: {'.'.join(map(str, way))} = {value!r:.20}",
                    "UPDATE item SET body = ? WHERE rowid = ?",
                    (json.dumps(_with(whole, way, value)), rowid),
                )


def objects() -> Iterator[Alteration]:
    """Each object that no case has."""
    return (Alteration(script, script) for script in OBJECTS)


def _ways(value: Any) -> Iterator[tuple[str | int, ...]]:
    """The way to each field, and to the first and last of a list."""
    if isinstance(value, dict):
        inside: list[Any] = list(value)
    elif isinstance(value, list):
        inside = sorted({0, len(value) - 1}) if value else []
    else:
        return
    for key in inside:
        yield (key,)
        yield from ((key, *rest) for rest in _ways(value[key]))


def _with(value: Any, way: tuple[str | int, ...], new: Any) -> Any:
    if not way:
        return new
    key, *rest = way
    copy = dict(value) if isinstance(value, dict) else list(value)
    copy[key] = _with(value[key], tuple(rest), new)  # type: ignore[index]
    return copy

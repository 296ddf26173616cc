"""Cases that somebody altered: each column with values of each wrong type, and every kind of SQL object."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from app.case.store import CaseStore
from tests.case.test_store import FULL, kept

COLUMNS = {
    "item": ("kind", "id", "body"),
    "change": ("at", "author", "words", "standing"),
    "change_item": ("kind", "id", "before", "after"),
    "blob": ("size_bytes", "whole"),
    "blob_part": ("part", "data"),
    "comparison": ("at", "question", "record"),
    "kept": ("kind", "key", "body"),
}
WRONG: tuple[Any, ...] = (
    7,
    -1,
    2**62,
    1.5,
    "",
    "x",
    "\x1b[31m",
    "{}",
    "[1",
    "[]",
    "null",
    '{"a":' * 60,
    b"\xff\x00",
    b"",
)
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


def sound_case(path: Path) -> Path:
    """A case with something in each table."""
    store = CaseStore.open(path, author="R.")
    kept(store, *FULL)
    store.undo()
    store.redo()
    store.save_comparison("[]", json.dumps({"schema": "twinslot.comparison/1"}))
    store.remember("checkup", "k", "{}")
    store.begin_blob("ab" * 32, 3)
    store.add_blob_part("ab" * 32, 0, b"abc")
    store.end_blob("ab" * 32)
    store.close()
    return path


def with_wrong_values(sound: Path, folder: Path) -> Iterator[tuple[str, Path]]:
    """A copy for each column and each wrong value, in all rows of the table, or in one where a key must differ."""
    for table, columns in COLUMNS.items():
        for column in columns:
            for n, value in enumerate(WRONG):
                yield (
                    f"{table}.{column} = {value!r:.20}",
                    _altered(sound, folder / f"{table}_{column}_{n}", table, column, value),
                )


def with_wrong_fields(sound: Path, folder: Path) -> Iterator[tuple[str, Path]]:
    """A copy for each field of each item, with a value of another type."""
    connection = sqlite3.connect(sound)
    rows = connection.execute("SELECT rowid, kind, id, body FROM item ORDER BY rowid").fetchall()
    connection.close()
    for rowid, kind, number, body in rows:
        for at, name in enumerate(json.loads(body)):
            for n, value in enumerate((7, -1, "x", None, [], {}, [[1]], 1e300)):
                changed = json.dumps({**json.loads(body), name: value})
                path = _copied(sound, folder / f"{kind}{number}_{at}_{n}")
                _run(path, "UPDATE item SET body = ? WHERE rowid = ?", (changed, rowid))
                yield f"{kind} {number}: {name} = {value!r}", path


def with_objects(sound: Path, folder: Path) -> Iterator[tuple[str, Path]]:
    """A copy for each object that no case has."""
    for n, script in enumerate(OBJECTS):
        path = _copied(sound, folder / f"object_{n}")
        connection = sqlite3.connect(path)
        connection.executescript(script)
        connection.close()
        yield script, path


def _altered(sound: Path, path: Path, table: str, column: str, value: Any) -> Path:
    path = _copied(sound, path)
    try:
        _run(path, f"UPDATE {table} SET {column} = ?", (value,))
    except sqlite3.IntegrityError:
        _run(path, f"UPDATE {table} SET {column} = ? WHERE rowid = (SELECT max(rowid) FROM {table})", (value,))
    return path


def _copied(sound: Path, stem: Path) -> Path:
    return Path(shutil.copyfile(sound, stem.with_suffix(".twinslot")))


def _run(path: Path, statement: str, values: tuple[Any, ...]) -> None:
    connection = sqlite3.connect(path)
    try:
        connection.execute("PRAGMA foreign_keys=OFF")
        connection.execute(statement, values)
        connection.commit()
    finally:
        connection.close()

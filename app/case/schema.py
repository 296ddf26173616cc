"""Tables of a case file, version by version.

A file carries its version in ``user_version``. ``STEPS[n]`` takes a file from version n to n + 1; a new file runs
all of them, so that a file that grew and one that is new have the same tables. A step is never edited once a
release has written files with it: a change is one more step, and a saved sample of each version stays in the tests.
"""

from __future__ import annotations

import sqlite3
from functools import cache

APPLICATION_ID = 0x54534C54
"""Tells a case file from any other SQLite file: the letters TSLT."""

PAGE_BYTES = 8192

FIRST = """
CREATE TABLE item(
    kind TEXT NOT NULL, id TEXT NOT NULL, body TEXT NOT NULL, PRIMARY KEY(kind, id)
);
CREATE TABLE change(
    n INTEGER PRIMARY KEY, at TEXT NOT NULL, author TEXT NOT NULL, words TEXT NOT NULL, standing TEXT NOT NULL
);
CREATE TABLE change_item(
    n INTEGER NOT NULL REFERENCES change(n), kind TEXT NOT NULL, id TEXT NOT NULL, before TEXT, after TEXT,
    PRIMARY KEY(n, kind, id)
);
CREATE TABLE blob(
    sha256 TEXT PRIMARY KEY, size_bytes INTEGER NOT NULL, whole INTEGER NOT NULL
);
CREATE TABLE blob_part(
    sha256 TEXT NOT NULL REFERENCES blob(sha256), part INTEGER NOT NULL, data BLOB NOT NULL,
    PRIMARY KEY(sha256, part)
);
"""
"""``standing`` is done, undone, or left (undone, and then another way was taken)."""

ANSWERS = """
CREATE TABLE comparison(
    id INTEGER PRIMARY KEY, at TEXT NOT NULL, question TEXT NOT NULL, record TEXT NOT NULL
);
CREATE TABLE kept(
    kind TEXT NOT NULL, key TEXT NOT NULL, body TEXT NOT NULL, PRIMARY KEY(kind, key)
);
"""
"""Comparisons with their results, and answers that can be made again (check-ups)."""

STEPS: tuple[str, ...] = (FIRST, ANSWERS)
VERSION = len(STEPS)

Object = tuple[str, str, str]
"""Kind, name and text of one thing in a database, as ``sqlite_master`` has it."""


@cache
def objects(version: int) -> frozenset[Object]:
    """All that a case of that version holds: its tables and their indexes, and nothing else."""
    connection = sqlite3.connect(":memory:")
    try:
        for step in STEPS[:version]:
            connection.executescript(step)
        return frozenset(found_objects(connection))
    finally:
        connection.close()


def found_objects(connection: sqlite3.Connection) -> list[Object]:
    """What a database holds; looking does not run any of it."""
    rows = connection.execute("SELECT type, name, sql FROM sqlite_master").fetchall()
    return [(str(kind), str(name), " ".join(str(sql or "").split())) for kind, name, sql in rows]

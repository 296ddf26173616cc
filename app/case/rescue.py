"""Recovers what can be read from a damaged case file, into a new one. The damaged file is never written to.

Rows are fetched one by one, so that a torn page costs only the rows on it. Where the first page, which holds the
list of tables, is torn, that of a new file takes its place in a copy: a file that was never migrated has its
tables in the same order at the same places. Where the file's trees lead nowhere, as behind a cut, the pages are
looked through one by one (``pages``).
"""

from __future__ import annotations

import hashlib
import secrets
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from app.case import schema
from app.case.database import guard
from app.case.errors import CaseDamaged, CaseError
from app.case.items import ITEM_KINDS, Key, case_of
from app.case.pages import Pages
from app.case.photos import LARGEST_PHOTO_BYTES
from app.case.store import CaseStore
from app.case.unpack import unpacked
from tracecore.file_name import file_name

FARTHEST_ROW = 1 << 40


@dataclass(frozen=True, slots=True)
class Rescue:
    """What came out: the new file, how much of each kind, and a sentence for each loss that is known."""

    path: Path
    items: int
    captures: int
    pictures: int
    lost: tuple[str, ...]


def rescue(damaged: str | Path, path: str | Path, *, author: str = "") -> Rescue:
    """Makes a new case from what can be read. Raises CaseDamaged where nothing can."""
    damaged, path = Path(damaged), Path(path)
    if not damaged.is_file():
        raise CaseError(f"{damaged}: there is no such file. Check the name.")
    if path.exists():
        raise CaseError(f"{path}: is there already. Choose a name that is not taken.")
    with tempfile.TemporaryDirectory(prefix="twinslot-") as folder:
        copy = Path(folder) / "copy"
        shutil.copyfile(damaged, copy)
        items, blobs = _all_that_reads(copy)
        if not items and not blobs:
            _give_first_page(copy)
            items, blobs = _all_that_reads(copy)
        if not items and not blobs:
            raise CaseDamaged(f"{damaged}: nothing in it can be read as a case. Take the newest copy that you have.")
        return _written(path, items, blobs, author)


def _all_that_reads(copy: Path) -> tuple[dict[Key, str], dict[str, list[bytes]]]:
    """Items by key, and the parts of each blob that are in sequence."""
    items, parts = _by_trees(copy)
    scattered: dict[str, dict[int, bytes]] = {sha: dict(enumerate(known)) for sha, known in parts.items()}
    newest: dict[Key, tuple[int, str | None]] = {}
    loose: dict[Key, str] = {}
    if not _is_sound(copy):
        for row in Pages(copy, schema.PAGE_BYTES).rows():
            if len(row) == 3 and isinstance(row[0], str) and isinstance(row[1], int) and isinstance(row[2], bytes):
                scattered.setdefault(row[0], {}).setdefault(row[1], row[2])
            elif len(row) == 3 and row[0] in ITEM_KINDS and all(isinstance(v, str) for v in row):
                loose.setdefault((str(row[0]), str(row[1])), str(row[2]))
            elif len(row) == 5 and isinstance(row[0], int) and all(isinstance(v, str) for v in row[1:3]):
                _note_change(newest, row)
    for key, (_, text) in newest.items():
        if text is not None:
            items.setdefault(key, text)
    for key, text in loose.items():
        if key not in newest:
            items.setdefault(key, text)
    joined = {sha: [found[n] for n in range(len(found)) if n in found] for sha, found in scattered.items()}
    return items, joined


def _note_change(newest: dict[Key, tuple[int, str | None]], row: tuple[Any, ...]) -> None:
    """A row of the history: number of the change, kind and number of the item, its text before and after."""
    n, kind, number, _, after = row
    if (after is None or isinstance(after, str)) and n >= newest.get((kind, number), (0, None))[0]:
        newest[kind, number] = n, after


def _is_sound(copy: Path) -> bool:
    connection = sqlite3.connect(copy, isolation_level=None)
    try:
        guard(connection)
        return bool(connection.execute("PRAGMA quick_check").fetchone()[0] == "ok")
    except sqlite3.Error:
        return False
    finally:
        connection.close()


def _by_trees(copy: Path) -> tuple[dict[Key, str], dict[str, list[bytes]]]:
    """What the file's own trees lead to."""
    connection = sqlite3.connect(copy, isolation_level=None)
    try:
        guard(connection)
        items: dict[Key, str] = {}
        for kind, number, body in _rows(connection, "item", "kind, id, body"):
            if isinstance(kind, str) and isinstance(number, str) and isinstance(body, str):
                items[kind, number] = body
        # what an item row lost may still stand in the history
        for kind, number, after in _rows(connection, "change_item", "kind, id, after"):
            texts = isinstance(number, str) and isinstance(after, str)
            if texts and kind in ("entries", "marks", "parts", "stamps", "pictures"):
                items.setdefault((kind, number), after)
        parts: dict[str, list[bytes]] = {}
        for sha256, part, data in _rows(connection, "blob_part", "sha256, part, data"):
            known = parts.setdefault(str(sha256), [])
            if part == len(known) and isinstance(data, bytes):
                known.append(data)
        return items, parts
    finally:
        connection.close()


def _rows(connection: sqlite3.Connection, table: str, columns: str) -> Iterator[tuple[Any, ...]]:
    """Rows by their row number; where one cannot be read, the next that can."""
    at, stride = 0, 1
    if not _is_table(connection, table):
        return
    while at < FARTHEST_ROW:
        try:
            row = connection.execute(
                f"SELECT rowid, {columns} FROM {table} WHERE rowid > ? ORDER BY rowid LIMIT 1", (at,)
            ).fetchone()
        except sqlite3.Error:
            # the rows behind a torn page begin somewhere: look for them in strides that double
            at, stride = at + stride, stride * 2
            continue
        if row is None:
            return
        at, stride = row[0], 1
        yield row[1:]


def _is_table(connection: sqlite3.Connection, name: str) -> bool:
    """Is it a plain table? A view, or a table that a module makes, may run without end."""
    try:
        rows = connection.execute("SELECT type, sql FROM sqlite_master WHERE name = ?", (name,)).fetchall()
    except sqlite3.Error:
        return False
    return [(kind, str(sql).split()[:2]) for kind, sql in rows] == [("table", ["CREATE", "TABLE"])]


def _give_first_page(copy: Path) -> None:
    with tempfile.TemporaryDirectory(prefix="twinslot-") as folder:
        fresh = Path(folder) / "fresh"
        CaseStore.open(fresh).close()
        page = fresh.read_bytes()[: schema.PAGE_BYTES]
    pages = copy.stat().st_size // schema.PAGE_BYTES
    with copy.open("r+b") as file:
        # bytes 28 to 31 of the header: size of the database in pages (SQLite file format, 1.3)
        file.write(page[:28] + pages.to_bytes(4, "big") + page[32:])


def _written(path: Path, items: dict[Key, str], blobs: dict[str, list[bytes]], author: str) -> Rescue:
    case, trouble = case_of(items)
    lost = list(trouble)
    keys = {c.key for c in case.captures}
    strays = [items[key] for key in items if key[0] == "capture" and key[1] not in keys]
    if strays:
        lost.append(f"{len(strays)} captures are on neither side any more; add their files again")
    case = replace(case, identity=case.identity or secrets.token_hex(8))
    store = CaseStore.open(path, author=author)
    # a joined capture has a file for each of its parts
    files = [own for c in case.captures for own in c.files]
    sizes = {own.sha256: own.size_bytes for own in files}
    try:
        store.read()
        store.keep("rescue the case", author, case)
        whole = {sha for sha, parts in blobs.items() if _sound(sha, parts)}
        for sha in sorted(whole):
            store.begin_blob(sha, sizes.get(sha, 0))
            for part, data in enumerate(blobs[sha]):
                store.add_blob_part(sha, part, data)
            store.end_blob(sha)
    finally:
        store.close()
    inside = [c for c in case.captures if all(own.sha256 in whole for own in c.files)]
    torn = {
        file_name(own.path) if c.joining else c.name
        for c in case.captures
        for own in c.files
        if own.sha256 in blobs and own.sha256 not in whole
    }
    lost += [f"{name}: its file was in the case and is torn; add it again" for name in sorted(torn)]
    photos = [p for p in case.pictures if p.stored in whole]
    lost += [f"picture {p.id} ({p.name}) is torn" for p in case.pictures if p.stored not in whole]
    return Rescue(path, len(items), len(inside), len(photos), tuple(lost))


def _sound(sha256: str, parts: list[bytes]) -> bool:
    digest = hashlib.sha256()
    try:
        for part in parts:
            digest.update(unpacked(part, LARGEST_PHOTO_BYTES))
    except ValueError:
        return False
    return digest.hexdigest() == sha256

"""Rows of a damaged case, read page by page where the file's own trees lead nowhere any more.

The layout is that of the SQLite database file format (sqlite.org/fileformat2.html): section 1.6 b-tree pages and
overflow, section 2.1 records. Only leaf pages of tables are looked at. Rows that were replaced or deleted may turn up
too, so whoever reads must know a sound row by itself: bytes by their hash, values by their number of change.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path

Value = str | int | float | bytes | None
Row = tuple[Value, ...]
LEAF = 0x0D
LARGEST_ROW_BYTES = 64 << 20


class Pages:
    """The pages of a database file; the last one may be cut."""

    def __init__(self, path: Path, page_bytes: int) -> None:
        self._data = path.read_bytes()
        self._size = page_bytes

    def __len__(self) -> int:
        return -(-len(self._data) // self._size)

    def rows(self) -> Iterator[Row]:
        """Every row on every leaf page that can be decoded, page after page."""
        for number in range(1, len(self) + 1):
            yield from self._rows_of(number)

    def _page(self, number: int) -> bytes:
        return self._data[(number - 1) * self._size : number * self._size]

    def _rows_of(self, number: int) -> Iterator[Row]:
        page = self._page(number)
        head = 100 if number == 1 else 0
        if len(page) < head + 8 or page[head] != LEAF:
            return
        cells = int.from_bytes(page[head + 3 : head + 5], "big")
        content = int.from_bytes(page[head + 5 : head + 7], "big") or 65536
        # 1.6: the list of cells ends before their content begins, and few bytes lie waste; else it is no such page
        if head + 8 + 2 * cells > content or page[head + 7] > 60:
            return
        for cell in range(cells):
            at = head + 8 + 2 * cell
            start = int.from_bytes(page[at : at + 2], "big")
            if 8 <= start < len(page):
                row = self._row(page, start)
                if row is not None:
                    yield row

    def _row(self, page: bytes, at: int) -> Row | None:
        """The record of the cell at ``at``; None where it, or a page it goes on in, is torn."""
        size, at = _varint(page, at)
        _, at = _varint(page, at)
        if not 0 < size <= min(LARGEST_ROW_BYTES, len(self._data)):
            return None
        # 1.6: what a cell keeps on its own page, and what goes on in the chain of overflow pages
        usable = self._size
        most, least = usable - 35, (usable - 12) * 32 // 255 - 23
        local = size
        if size > most:
            local = least + (size - least) % (usable - 4)
            local = local if local <= most else least
        payload = page[at : at + local]
        if size > local:
            payload += self._overflow(int.from_bytes(page[at + local : at + local + 4], "big"), size - local)
        return _record(payload) if len(payload) == size else None

    def _overflow(self, number: int, lacking: int) -> bytes:
        parts: list[bytes] = []
        been: set[int] = set()
        while lacking > 0 and 0 < number <= len(self) and number not in been:
            # a torn chain may lead in a circle
            been.add(number)
            page = self._page(number)
            part = page[4 : 4 + min(lacking, self._size - 4)]
            parts.append(part)
            lacking -= len(part)
            number = int.from_bytes(page[:4], "big")
            if not part:
                break
        return b"".join(parts)


def _varint(data: bytes, at: int) -> tuple[int, int]:
    """A number of one to nine bytes, and where it ends; 0 where the data end before it does."""
    value = 0
    for count in range(9):
        if at >= len(data):
            return 0, at
        byte = data[at]
        at += 1
        if count == 8:
            return value << 8 | byte, at
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            break
    return value, at


def _record(payload: bytes) -> Row | None:
    """The columns of a record (2.1); None where it is none."""
    head, at = _varint(payload, 0)
    if not 0 < head <= len(payload):
        return None
    kinds = []
    while at < head:
        kind, at = _varint(payload, at)
        kinds.append(kind)
    row: list[Value] = []
    for kind in kinds:
        width = _WIDTHS[kind] if kind < 12 else (kind - 12) // 2
        part = payload[at : at + width]
        if len(part) != width or kind in (10, 11):
            return None
        at += width
        try:
            row.append(_value(kind, part))
        except UnicodeDecodeError:
            return None
    return tuple(row)


_WIDTHS = (0, 1, 2, 3, 4, 6, 8, 8, 0, 0, 0, 0)


def _value(kind: int, part: bytes) -> Value:
    if kind == 0:
        return None
    if kind <= 6:
        return int.from_bytes(part, "big", signed=True)
    if kind == 7:
        return float(struct.unpack(">d", part)[0])
    if kind in (8, 9):
        return kind - 8
    return part.decode("utf-8") if kind % 2 else part

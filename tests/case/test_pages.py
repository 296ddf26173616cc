"""Pages of a torn database: every row of a sound one is found, and damage costs rows, never time without end."""

from __future__ import annotations

import random
import sqlite3
from pathlib import Path

from app.case import schema
from app.case.pages import Pages


def test_every_row_is_found_long_ones_too(tmp_path: Path) -> None:
    path = tmp_path / "x.db"
    chance = random.Random(1)
    rows = [(f"row {n}", n - 5, n / 7, chance.randbytes(n * n * 3), None) for n in range(120)]
    connection = sqlite3.connect(path)
    connection.execute(f"PRAGMA page_size={schema.PAGE_BYTES}")
    connection.execute("CREATE TABLE t(a, b, c, d, e)")
    connection.executemany("INSERT INTO t VALUES(?, ?, ?, ?, ?)", rows)
    connection.commit()
    connection.close()
    found = [row for row in Pages(path, schema.PAGE_BYTES).rows() if isinstance(row[0], str) and len(row) == 5]
    assert [row for row in found if row[0].startswith("row ")] == rows


def test_noise_for_pages_ends_soon(tmp_path: Path) -> None:
    chance = random.Random(2)
    pages = []
    for _ in range(400):
        page = bytearray(chance.randbytes(schema.PAGE_BYTES))
        # leaves by their first byte, whose every cell claims to go on in the next pages
        page[0] = 0x0D
        page[3:5] = (3000).to_bytes(2, "big")
        pages.append(bytes(page))
    path = tmp_path / "noise.db"
    path.write_bytes(b"".join(pages))
    looked = Pages(path, schema.PAGE_BYTES)
    read = 0
    page_of = looked._page

    def counted(number: int) -> bytes:
        nonlocal read
        read += 1
        return page_of(number)

    looked._page = counted  # type: ignore[method-assign]
    list(looked.rows())
    assert read < 100 * len(pages)

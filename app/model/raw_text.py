"""The lines of a file as they stand: the first ones, those around a place, and the cell that an error names."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tracecore.errors import CaptureFileError

LINES_SHOWN, LONGEST_LINE = 120, 400


@dataclass(frozen=True, slots=True)
class RawLine:
    """A line of the file, by its number from 1."""

    number: int
    text: str


@dataclass(frozen=True, slots=True)
class Marked:
    """The place an error names: characters ``start`` to ``stop`` (open) of a line."""

    line: int
    start: int
    stop: int


def plain_lines(plain: bytes) -> tuple[RawLine, ...]:
    """The first lines as text, shortened where they are very long."""
    try:
        text = plain.decode("utf-8", "strict" if plain.endswith(b"\n") else "ignore")
    except UnicodeDecodeError:
        text = plain.decode("latin-1")
    rows = text.split("\n")[:LINES_SHOWN]
    return tuple(RawLine(i, row.rstrip("\r")[:LONGEST_LINE]) for i, row in enumerate(rows, start=1) if row or i == 1)


def lines_around(path: Path, line: int, around: int) -> tuple[RawLine, ...]:
    """Lines ``line`` - around to ``line`` + around of a file of any length, unzipped."""
    first, last = max(1, line - around), line + around
    return tuple(
        RawLine(number, text[:LONGEST_LINE]) for number, text in numbered_lines(path, last) if first <= number <= last
    )


def numbered_lines(path: Path, last: int) -> Iterator[tuple[int, str]]:
    import gzip

    with path.open("rb") as raw:
        zipped = raw.read(2) == b"\x1f\x8b"
        raw.seek(0)
        stream = gzip.GzipFile(fileobj=raw) if zipped else raw
        for number, line in enumerate(stream, start=1):
            yield number, line.decode("utf-8", "replace").rstrip("\r\n")
            if number >= last:
                return


def marked(lines: tuple[RawLine, ...], error: CaptureFileError, delimiter: str) -> Marked | None:
    """The cell that the error names, or the whole line."""
    text = next((line.text for line in lines if line.number == error.line), None)
    if text is None or error.line is None:
        return None
    cells = text.split(delimiter) if delimiter else [text]
    if error.column is None or not 1 <= error.column <= len(cells):
        return Marked(error.line, 0, len(text))
    start = sum(len(cell) + 1 for cell in cells[: error.column - 1])
    return Marked(error.line, start, start + max(1, len(cells[error.column - 1])))

"""A file as bytes: opened, unzipped, hashed while it is read, with its first lines at hand."""

from __future__ import annotations

import codecs
import contextlib
import csv
import gzip
import io
import itertools
import re
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tracecore.errors import CaptureFileError, MalformedCapture, UnknownCapture
from tracecore.readers.hashed_file import HashedFile

if TYPE_CHECKING:
    from tracecore.readers.plan.column_choice import ColumnChoice

HEAD_BYTES = 1 << 16
Progress = Callable[[float, str], None]
_BOM = b"\xef\xbb\xbf"
# a semicolon before another one, or before a number, stands behind an empty cell
_COMMENT = re.compile(r'\s*"?(?:;(?![;\d.+-])|[#%]|//|!(?=\s))+')
_DECIMAL_COMMA = re.compile(r"\s*[+-]?\d*,\d+(?:[eE][+-]?\d{1,3})?\s*")


@dataclass(frozen=True, slots=True)
class ReadOptions:
    """What a person may add to a file: the capture's ``name``, hertz where the file states no sample rate, and the
    picoseconds of one unit of a time column that names none, the base of words (2, 8, 16), and by column what it
    is."""

    name: str
    sample_rate: Fraction | None = None
    time_unit_ps: Fraction | None = None
    word_base: int | None = None
    columns: Mapping[str, ColumnChoice] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class Head:
    """The first lines of a file, as text without line ends. ``whole`` says that the file ends within them.


    ``decimal`` is what stands before the decimals of a number: a point, or a comma where that is no delimiter.
    ``first_row`` is the line, from 0, at which the rows begin where a person said so; ``coding`` is that of the
    letters. ``found`` keeps what was found in it, by whoever looked, so that nobody looks twice.
    """

    path: str
    lines: tuple[str, ...]
    whole: bool
    delimiter: str
    decimal: str = "."
    first_row: int | None = None
    coding: str = "utf-8"
    found: dict[Any, Any] = field(default_factory=dict, init=False, repr=False)

    def cells(self, line: int) -> list[str]:
        """The cells of a line, blanks and quotes taken off, decimals behind a point."""
        if line not in self.found:
            self.found[line] = split_cells(self.lines[line], self.delimiter, self.decimal)
        cells: list[str] = self.found[line]
        return cells

    def rows(self, start: int, count: int) -> list[list[str]]:
        """The cells of the first ``count`` lines from ``start`` on that are not blank."""
        filled = (i for i in range(start, len(self.lines)) if self.lines[i].strip())
        return [self.cells(i) for i in itertools.islice(filled, count)]


def split_cells(line: str, delimiter: str, decimal: str = ".") -> list[str]:
    """Cells of a line without surrounding blanks and quotes, a decimal comma turned into a point.

    >>> split_cells('"Time (s)", D0', ",")
    ['Time (s)', 'D0']
    >>> split_cells("0,5;1.5;A,B", ";", ",")
    ['0.5', '1,5', 'A,B']
    """
    cells = line.split(delimiter)
    if '"' in line:
        # a stray carriage return ends no line, and is no row to be taken apart
        with contextlib.suppress(csv.Error):
            cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [""])
    if decimal == ",":
        return [_with_point(cell.strip()) for cell in cells]
    return [cell.strip() for cell in cells]


def _with_point(cell: str) -> str:
    """A point is no decimal mark beside decimal commas, and must not pass for one."""
    if _DECIMAL_COMMA.fullmatch(cell):
        return cell.replace(",", ".")
    return cell.replace(".", ",") if _DECIMAL_COMMA.fullmatch(cell.replace(".", ",")) else cell


def text_of(data: bytes) -> tuple[str, str]:
    """Text of UTF-8, else of Latin-1, and which of the two it is."""
    try:
        return data.decode(), "utf-8"
    except UnicodeDecodeError:
        return data.decode("latin-1"), "latin-1"


_Recode = Callable[[bytes, bool], bytes]


def _recoding(head: bytes) -> _Recode | None:
    """What makes lines of UTF-8 of a file of UTF-16, or of one whose lines end in carriage returns alone."""
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        coding = "utf-16"
    elif len(head) > 16 and head[1:64:2].strip(b"\0") == b"" and b"\0" not in head[:64:2]:
        coding = "utf-16-le"
    elif b"\r" in head and b"\n" not in head:
        return lambda data, _: data.replace(b"\r", b"\n")
    else:
        return None
    decoder = codecs.getincrementaldecoder(coding)("replace")
    return lambda data, last: decoder.decode(data, last).encode()


def comment_text(line: str) -> str | None:
    """What a comment says, without the characters that make it one; None where the line is none.

    >>> comment_text("// Samplerate: 1 MHz,,")
    'Samplerate: 1 MHz'
    """
    mark = _COMMENT.match(line)
    return line[mark.end() :].strip().rstrip(",;\t").rstrip('"').strip() if mark else None


class Source:
    """Reads a file once, from the start, unzipped and without a byte order mark.

    The SHA-256 is that of the file as it lies on the disk. ``delimiter`` and ``first_row``, the line of the first row
    of data, counted from 1, are what a person says of a file that is taken wrongly without. Raises CaptureFileError
    where it cannot be read, and once it holds more than ``most_bytes``, unzipped.
    """

    def __init__(
        self,
        path: str | Path,
        progress: Progress | None = None,
        *,
        delimiter: str | None = None,
        first_row: int | None = None,
        most_bytes: int | None = None,
    ) -> None:
        self.path = str(path)
        self._said_delimiter, self._first_row = delimiter, first_row
        self._most_bytes, self._taken_bytes = most_bytes, 0
        self._progress = progress
        self.notes: tuple[str, ...] = ()
        self._recode: _Recode | None = None
        self._pushed: bytes | None = None
        self._head: Head | None = None
        self._task = f"reading {Path(path).name}"
        try:
            self._size = max(1, Path(path).stat().st_size)
            self._file = open(path, "rb", buffering=0)  # noqa: SIM115 - closed by close()
        except OSError as error:
            raise _unreadable(path, error) from error
        self._raw = HashedFile(self._file, HEAD_BYTES)
        self._stream: io.RawIOBase | gzip.GzipFile = self._raw
        with contextlib.ExitStack() as undo:
            # whatever ends the first look, a person's stop included, must not leave the file open
            undo.callback(self.close)
            try:
                magic = self._file.read(2)
                self._file.seek(0)
                if magic == b"\x1f\x8b":
                    self._stream = gzip.GzipFile(fileobj=self._raw)
                self._pushed = self._first()
            except OSError as error:
                raise _unreadable(path, error) from error
            undo.pop_all()

    def _first(self) -> bytes:
        head = self.read(HEAD_BYTES)
        if (recode := _recoding(head)) is not None:
            self._recode, head = recode, recode(head, False)
        while len(head) < HEAD_BYTES and (more := self.read(HEAD_BYTES - len(head))):
            head += more
        self._whole = len(head) < HEAD_BYTES
        return head[len(_BOM) :] if head.startswith(_BOM) else head

    def read(self, size: int) -> bytes:
        """Up to ``size`` bytes of text, more where it is recoded; empty at the end of the file."""
        while data := self._told(size):
            if self._recode is not None:
                data = self._recode(data, False)
            if data := data[: self._before_nul(data)]:
                return data
        return self._recode(b"", True) if self._recode is not None else b""

    def _before_nul(self, data: bytes) -> int:
        """Bytes before a tail of NUL bytes, which goes on to the end of the file, and is told.

        Raises MalformedCapture where something stands behind them.
        """
        found = data.find(b"\0")
        if found < 0:
            return len(data)
        rest, count = data[found:], 0
        if self._pushed is None and rest.strip(b"\0"):
            return len(data)  # no text from the start, which is told by what the file begins with
        while rest and not rest.strip(b"\0"):
            count += len(rest)
            rest = self._told(HEAD_BYTES)
        if rest:
            raise MalformedCapture(
                self.path,
                found="NUL bytes amid the rows",
                expected="text",
                do="Export the capture again: a part of the file was never written.",
            )
        self.notes += (f"The file ends in {count} NUL bytes, left out: it may not have been written to its end.",)
        return found

    def _told(self, size: int) -> bytes:
        """Bytes of the file, unzipped, of which the progress is told."""
        try:
            done = self._stream.read(size) or b""
        except (EOFError, gzip.BadGzipFile, zlib.error) as error:
            raise CaptureFileError(
                self.path,
                found=f"a gzip file that is cut or damaged ({error})",
                expected="a whole gzip file",
                do="Copy the file again from the instrument.",
            ) from error
        except OSError as error:
            raise _unreadable(self.path, error) from error
        if self._most_bytes is not None:
            self._taken_bytes += len(done)
            if self._taken_bytes > self._most_bytes:
                raise CaptureFileError(
                    self.path,
                    found=f"more than {self._most_bytes:,} bytes in it".replace(",", " "),
                    expected="no more than the limit that was set",
                    do="Capture a shorter stretch, or set a higher limit.",
                )
        if self._progress is not None:
            self._progress(min(1.0, self._file.tell() / self._size), self._task)
        return done

    def take_head(self) -> bytes:
        """The first bytes, up to HEAD_BYTES; the next ``read`` goes on behind them."""
        return self._pushed or b""

    def head(self) -> Head:
        """The first lines as text. Raises UnknownCapture for an empty file or one that is not text."""
        if self._head is None:
            self._head = self._look()
        return self._head

    def _look(self) -> Head:
        raw = self.take_head()
        if not raw.strip():
            raise UnknownCapture(self.path, found="an empty file", expected="a capture", do="Export the capture again.")
        if b"\0" in raw or sum(b < 9 or 13 < b < 32 for b in raw[:4096]) > 4:
            raise UnknownCapture(
                self.path,
                found="bytes that are not text",
                expected="a capture saved as CSV",
                do="Export it as CSV from the instrument.",
            )
        # a last line that is not whole says little, and may end within a character
        whole = raw if self._whole or b"\n" not in raw else raw[: raw.rindex(b"\n")]
        text, coding = text_of(whole)
        lines = [line.rstrip("\r") for line in text.split("\n")]
        delimiter = self._said_delimiter or _delimiter(lines)
        for i, line in enumerate(lines[:-1]):
            # a row of delimiters above the rows, as some write it below the units, holds nothing
            if line and not line.strip(delimiter + ' "\t'):
                lines[i] = ""
        decimal = _decimal(lines, delimiter)
        head = Head(self.path, tuple(lines), self._whole, delimiter, decimal, coding=coding)
        if self._first_row is None:
            return head
        from tracecore.readers.recognise.first_row import with_first_row

        return with_first_row(head, self._first_row)

    def skip_lines(self, lines: int) -> int:
        """Bytes of the head that the first ``lines`` lines take up."""
        at = 0
        for _ in range(lines):
            at = self.take_head().index(b"\n", at) + 1
        return at

    def sha256(self) -> str:
        """Hash of all bytes; reads what is left."""
        while self._raw.read(1 << 20):
            pass
        return self._raw.hexdigest()

    def close(self) -> None:
        """Closes the file."""
        self._raw.stop()
        self._file.close()


def _unreadable(path: str | Path, error: OSError) -> CaptureFileError:
    # systems refuse to open a folder by more than one error
    found, do = f"no readable file ({error.strerror or error})", "Check the name."
    if Path(path).is_dir():
        found, do = "a folder", "Name one file."
    return CaptureFileError(path, found=found, expected="a capture file", do=do)


def _delimiter(lines: list[str]) -> str:
    """The delimiter that most of the last lines hold most often; a comma where there is one column only.

    A comma may be a decimal one, and gives way to what stands in as many lines.
    """
    sample = [line for line in lines[-40:] if line.strip() and comment_text(line) is None]
    found = max(",;\t", key=lambda d: (sum(d in line for line in sample), sum(line.count(d) for line in sample[-3:])))
    if found == ",":
        commas = sum("," in line for line in sample)
        return next((d for d in ";\t" if commas and sum(d in line for line in sample) >= commas), found)
    return found


def _decimal(lines: list[str], delimiter: str) -> str:
    """A comma where it is no delimiter and stands within numbers of the last lines."""
    if delimiter == ",":
        return "."
    cells = (c for line in lines[-40:] if comment_text(line) is None for c in line.split(delimiter))
    return "," if any(_DECIMAL_COMMA.fullmatch(cell.strip('" ')) for cell in cells) else "."

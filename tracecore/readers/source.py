"""A file as bytes: opened, unzipped, hashed while it is read, with its first lines at hand."""

from __future__ import annotations

import gzip
import hashlib
import io
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tracecore.errors import CaptureFileError, UnknownCapture

HEAD_BYTES = 1 << 16
Progress = Callable[[float, str], None]
_BOM = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True)
class Head:
    """The first lines of a file, as text without line ends. ``whole`` says that the file ends within them."""

    path: str
    lines: tuple[str, ...]
    whole: bool
    delimiter: str

    def cells(self, line: int) -> list[str]:
        """The cells of a line, blanks and quotes taken off."""
        return split_cells(self.lines[line], self.delimiter)


def split_cells(line: str, delimiter: str) -> list[str]:
    """Cells of a line without surrounding blanks and quotes.

    >>> split_cells('"Time (s)", D0', ",")
    ['Time (s)', 'D0']
    """
    return [cell.strip().strip('"').strip() for cell in line.split(delimiter)]


class Source:
    """Reads a file once, from the start, unzipped and without a byte order mark.

    The SHA-256 is that of the file as it lies on the disk. Raises CaptureFileError where it cannot be read.
    """

    def __init__(self, path: str | Path, progress: Progress | None = None) -> None:
        self.path = str(path)
        self._progress = progress
        self._hash = hashlib.sha256()
        try:
            self._size = max(1, Path(path).stat().st_size)
            self._file = open(path, "rb", buffering=0)  # noqa: SIM115 - closed by close()
        except IsADirectoryError as error:
            raise CaptureFileError(path, found="a folder", expected="a capture file", do="Name one file.") from error
        except OSError as error:
            raise CaptureFileError(
                path, found=f"no readable file ({error.strerror})", expected="a capture file", do="Check the name."
            ) from error
        self._raw = _Hashed(self._file, self._hash)
        try:
            magic = self._file.read(2)
            self._file.seek(0)
        except OSError as error:
            self._file.close()
            raise CaptureFileError(path, found="a folder", expected="a capture file", do="Name one file.") from error
        self._stream: io.RawIOBase | gzip.GzipFile = (
            gzip.GzipFile(fileobj=self._raw) if magic == b"\x1f\x8b" else self._raw
        )
        self._pushed = self._first()

    def _first(self) -> bytes:
        head = self.read(HEAD_BYTES)
        while len(head) < HEAD_BYTES and (more := self.read(HEAD_BYTES - len(head))):
            head += more
        return head[len(_BOM) :] if head.startswith(_BOM) else head

    def read(self, size: int) -> bytes:
        """Up to ``size`` bytes; empty at the end of the file."""
        try:
            data = self._stream.read(size)
        except (EOFError, gzip.BadGzipFile, zlib.error) as error:
            raise CaptureFileError(
                self.path,
                found=f"a gzip file that is cut or damaged ({error})",
                expected="a whole gzip file",
                do="Copy the file again from the instrument.",
            ) from error
        except OSError as error:
            raise CaptureFileError(
                self.path,
                found=f"a file that stops being readable ({error})",
                expected="a readable file",
                do="Copy the file again.",
            ) from error
        if self._progress is not None:
            self._progress(min(1.0, self._file.tell() / self._size), f"reading {Path(self.path).name}")
        return data or b""

    def take_head(self) -> bytes:
        """The first bytes, up to HEAD_BYTES; the next ``read`` goes on behind them."""
        return self._pushed

    def head(self) -> Head:
        """The first lines as text. Raises UnknownCapture for an empty file or one that is not text."""
        raw = self._pushed
        if not raw.strip():
            raise UnknownCapture(self.path, found="an empty file", expected="a capture", do="Export the capture again.")
        if b"\0" in raw or sum(b < 9 or 13 < b < 32 for b in raw[:4096]) > 4:
            raise UnknownCapture(
                self.path,
                found="bytes that are not text",
                expected="a capture saved as CSV",
                do="Export it as CSV from the instrument.",
            )
        try:
            text = raw.decode("utf-8")
        except UnicodeDecodeError:
            text = raw.decode("latin-1")
        whole = len(raw) < HEAD_BYTES - len(_BOM)
        lines = text.split("\n")
        if not whole and len(lines) > 1:
            lines.pop()
        lines = [line.rstrip("\r") for line in lines]
        return Head(self.path, tuple(lines), whole, _delimiter(lines))

    def sha256(self) -> str:
        """Hash of all bytes; reads what is left."""
        while self.read(1 << 20):
            pass
        while self._raw.read(1 << 20):
            pass
        return self._hash.hexdigest()

    def close(self) -> None:
        """Closes the file."""
        self._file.close()


class _Hashed(io.RawIOBase):
    """Hashes what passes through."""

    def __init__(self, file: io.RawIOBase, digest: hashlib._Hash) -> None:
        self._inner = file
        self._digest = digest

    def read(self, size: int = -1) -> bytes:
        data = self._inner.read(size) or b""
        self._digest.update(data)
        return data

    def readable(self) -> bool:
        return True


def _delimiter(lines: list[str]) -> str:
    """The delimiter that most of the last lines hold most often; a comma where there is one column only."""
    sample = [line for line in lines[-40:] if line.strip()]
    return max(",;\t", key=lambda d: (sum(d in line for line in sample), sum(line.count(d) for line in sample[-3:])))

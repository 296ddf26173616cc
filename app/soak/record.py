"""The record of a watch: a CSV row for each file, from which a watch that was killed goes on with its counts."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import weakref
from dataclasses import dataclass
from pathlib import Path

from app.case.codec import decode, encode
from app.harmless import plain
from app.soak.file_lock import lock_file
from app.soak.soak import News, Status
from tracecore.capture_series import Reference
from tracecore.csv_cells import guarded
from tracecore.errors import RequestError
from tracecore.readers.settings import ReadSettings
from tracecore.repeats.table import CaptureOutcome

HEADING = ("time", "file", "status", "first", "cycle", "diverging", "slips", "kept")
_HEAD = ",".join(HEADING)
_MOST_WAITING = 10_000
"""So many rows wait for a record that cannot be written; those beyond are read again by the next watch."""
_LONGEST_ROW = 4 << 20


@dataclass(frozen=True, slots=True)
class KeptNews:
    """What the last cell of a row holds: the news of one file, and ``against`` what it was compared, as a hash."""

    name: str
    when: str
    status: Status
    against: str
    size_bytes: int = 0
    modified_ns: int = 0
    sha256: str = ""
    outcome: CaptureOutcome | None = None


def against_what(reference: Reference, reading: ReadSettings, called: str = "") -> str:
    """A hash of the known-good captures, the sheet and all settings: counts hold against these alone. ``called`` says
    by which names the channels of what lands go, where it is not by their own."""
    request = reference.request
    good = [capture.sha256 for capture in request.good]
    told = repr((good, request.sheet, request.settings, reading)) + called
    return hashlib.sha256(told.encode("utf-8", "backslashreplace")).hexdigest()[:16]


class Record:
    """``kept`` are the rows of an older watch, ``add`` writes one more, whole or not at all.

    One watch keeps it until ``close``. Raises RequestError where another does, where it is no record, or one against
    something else; OSError where it cannot be read. A last row that was cut off is taken out by the next ``add``;
    ``cut_off`` says that there was one.
    """

    def __init__(self, path: str | Path, against: str) -> None:
        self.path, self._against = Path(path), against
        self._waiting: list[bytes] = []
        self.lost = 0
        self.cut_off = False
        self.kept: tuple[KeptNews, ...] = ()
        # a device or a pipe takes rows, and gives none back
        self._is_file = not self.path.exists() or self.path.is_file()
        self._read_bytes = self._sound_bytes = 0
        self._lock: int | None = None
        if not self._is_file:
            return
        there = self.path.exists()
        try:
            self._hold()
        except BlockingIOError as error:
            raise RequestError(
                f"{self.path}: another watch keeps its record there. End that one, or name another file."
            ) from error
        except OSError:
            # rows wait for a place that cannot be written yet; one that cannot be read says so below
            pass
        if there:
            try:
                self._read()
            except BaseException:
                self.close()
                raise

    @property
    def waiting(self) -> int:
        """How many rows could not be written yet."""
        return len(self._waiting) + self.lost

    def add(self, news: News) -> None:
        """One row more, and those that waited. Raises OSError where they cannot be written; they go on waiting."""
        row = _row(news, self._against)
        if len(self._waiting) < _MOST_WAITING:
            self._waiting.append(row)
        else:
            self.lost += 1
        self.write()

    def _hold(self) -> None:
        """Keeps the record for this watch alone, from the start on, so that a second one is told before it works; the
        system lets go of it however the process ends. Raises BlockingIOError where another watch keeps it."""
        place = self._opened()
        if self._lock is not None and os.path.sameopenfile(self._lock, place):
            os.close(place)
            return
        # another file has taken the place of the one that was kept
        self.close()
        try:
            locked = lock_file(place)
        except BlockingIOError:
            os.close(place)
            raise
        if not locked:
            os.close(place)
            return
        self._lock, self._let_go = place, weakref.finalize(self, os.close, place)

    def close(self) -> None:
        """Lets another watch keep it."""
        if self._lock is not None:
            self._lock = None
            self._let_go()

    def _opened(self) -> int:
        return os.open(self.path, os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o666)

    def write(self) -> None:
        """Writes the rows that wait. Raises OSError where that cannot be done."""
        if not self._waiting:
            return
        if not self._is_file:
            with self.path.open("wb", buffering=0) as device:
                _write_all(device.fileno(), b"".join(self._waiting))
            self._waiting.clear()
            return
        self._hold()
        place = self._opened()
        try:
            start = os.fstat(place).st_size
            if self.cut_off and start == self._read_bytes:
                # the rest of a row that was cut off
                start = self._sound_bytes
                os.ftruncate(place, start)
            self.cut_off = False
            os.lseek(place, start, os.SEEK_SET)
            try:
                _write_all(place, b"".join(([] if start else [(_HEAD + "\r\n").encode()]) + self._waiting))
            except OSError:
                os.ftruncate(place, start)
                raise
        finally:
            os.close(place)
        self._waiting.clear()

    def _read(self) -> None:
        data = self.path.read_bytes()
        self._read_bytes, self._sound_bytes = len(data), data.rfind(b"\n") + 1
        self.cut_off = self._sound_bytes < len(data)
        if not data:
            return
        text = data[: self._sound_bytes].decode("utf-8", "replace")
        if text.split("\n", 1)[0].strip("\r\ufeff") != _HEAD:
            if not self._sound_bytes and _HEAD.encode().startswith(data):
                return
            raise self._no_row(1, text[:60] or repr(data[:60]))
        before = csv.field_size_limit(_LONGEST_ROW)
        rows, kept = csv.reader(io.StringIO(text, newline="")), []
        try:
            next(rows)
            for row in rows:
                kept.append(self._news(row, rows.line_num))
        except csv.Error as error:
            raise self._no_row(rows.line_num, str(error)) from error
        finally:
            csv.field_size_limit(before)
        self.kept = tuple(kept)

    def _news(self, row: list[str], line: int) -> KeptNews:
        if len(row) != len(HEADING):
            raise self._no_row(line, f"{len(row)} cells")
        try:
            news = decode(KeptNews, row[-1])
        except ValueError as error:
            raise self._no_row(line, str(error)) from error
        if news.against != self._against:
            raise RequestError(
                f"{self.path}, line {line}: this row was compared with other known-good captures or settings, so its "
                "counts do not go on here. Name another file for the record."
            )
        return news

    def _no_row(self, line: int, found: str) -> RequestError:
        return RequestError(
            f"{self.path}, line {line}: found {found}; expected the record of a watch. Name another file for it."
        )


def _row(news: News, against: str) -> bytes:
    outcome = news.outcome
    first, cycle, diverging, slips = ("", "", "", "") if outcome is None else (
        outcome.first or "",
        "" if outcome.first_cycle is None else outcome.first_cycle,
        " ".join(sorted(outcome.diverges)),
        0 if outcome.slips is None else outcome.slips.places,
    )  # fmt: skip
    kept = KeptNews(
        news.path.name, news.when, news.status, against, news.size_bytes, news.modified_ns, news.sha256, outcome
    )
    # in ASCII, where nothing turns a terminal's writing; a file name need not be text
    told = json.dumps(json.loads(encode(kept)), separators=(",", ":"))
    out = io.StringIO(newline="")
    csv.writer(out).writerow(
        (news.when, _words(news.path.name), news.status, _words(first), cycle, _words(diverging), slips, told)
    )
    return out.getvalue().encode("utf-8", "backslashreplace")


def _words(text: str) -> str:
    """On one line, so that a row ends where its line does."""
    return guarded(plain(text).replace("\n", " "))


def _write_all(place: int, data: bytes) -> None:
    view = memoryview(data)
    while view:
        view = view[os.write(place, view) :]

"""Captures that come one by one against the known-good ones: each is compared, counted and let go."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from app.comparison_text import shifting_sentence, slipping_sentence
from app.soak.folder_watch import LOOK_S, FolderWatch
from app.trouble_log import unforeseen
from tracecore.capture_series import Reference, read_against
from tracecore.errors import TwinslotError
from tracecore.name_lists import few_names
from tracecore.quantities import group_digits
from tracecore.readers import read_capture
from tracecore.readers.settings import ReadSettings
from tracecore.repeats.table import CaptureOutcome, RepeatTable

if TYPE_CHECKING:
    from app.soak.record import Record
    from tracecore.capture import Capture

LARGEST_BYTES = 4 << 30
"""A file that holds more than this, unzipped, is given up unless another limit is set."""
Status = Literal["agrees", "diverges", "cannot tell", "broken", "seen already"]


@dataclass(frozen=True, slots=True)
class News:
    """What one file said. ``when`` is the moment at which it was taken, as ISO 8601 has it; ``words`` is the line to
    print. The size and the time of the file are those before it was read."""

    path: Path
    when: str
    status: Status
    words: str
    outcome: CaptureOutcome | None = None
    size_bytes: int = 0
    modified_ns: int = 0
    sha256: str = ""

    @property
    def at(self) -> str:
        """The time of day, as ``14:02:31``."""
        return self.when[11:19]


@dataclass(frozen=True, slots=True)
class Count:
    """How many files of each kind there were; ``last`` is when one diverged last, empty where none did."""

    agrees: int = 0
    diverges: int = 0
    cannot_tell: int = 0
    broken: int = 0
    seen_already: int = 0
    last: str = ""

    @property
    def words(self) -> str:
        """ "3 of 240, last at 14:02"; what did not count stands behind."""
        compared = self.agrees + self.diverges
        text = f"{group_digits(self.diverges)} of {group_digits(compared)} diverge{'s' if self.diverges == 1 else ''}"
        if self.last:
            text += f", last at {self.last[:5]}"
        others = (("cannot be told", self.cannot_tell), ("broken", self.broken), ("twice there", self.seen_already))
        return "; ".join([text, *(f"{group_digits(n)} {what}" for what, n in others if n)])


class Soak:
    """``take`` gives the news of one file. ``table`` has the counts by signal; memory does not grow with the captures
    but for 32 bytes each and a name, by which one that lies there twice is known again. A file that holds more than
    ``largest_bytes``, unzipped, is given up. ``named`` gives a capture the names of the known-good side."""

    def __init__(
        self,
        against: Reference,
        reading: ReadSettings | None = None,
        largest_bytes: int = LARGEST_BYTES,
        named: Callable[[Capture], Capture] = lambda capture: capture,
    ) -> None:
        self._against, self._reading = against, reading or ReadSettings()
        self._largest_bytes, self._named = largest_bytes, named
        self._seen: dict[bytes, str] = {bytes.fromhex(c.sha256): c.name for c in against.request.good if c.sha256}
        self._broken: set[Path] = set()
        self._again = 0
        self._last = ""
        self.table = RepeatTable()

    @property
    def count(self) -> Count:
        """The counts so far."""
        table = self.table
        agrees = table.captures - table.diverging
        return Count(agrees, table.diverging, table.uncounted, len(self._broken), self._again, self._last)

    @property
    def sentences(self) -> tuple[str, ...]:
        """What the captures so far show: the first signal or what a repair proves, slips, shifts in time."""
        table = self.table
        verdict = table.first_verdict().sentence if table.diverging else table.proof().sentence
        slipping = slipping_sentence(table.slipping, table.captures, self._against.good_slips)
        shifting = shifting_sentence(table.shifting, table.captures)
        return tuple(sentence for sentence in (verdict, slipping, shifting) if sentence)

    def take(self, path: Path) -> News:
        """Reads, compares and counts one file. A file that was broken and is read now is not broken any more.
        Whatever one file does, it is named and counted, and the watch goes on."""
        news = News(path, datetime.now().isoformat(timespec="seconds"), "broken", "")
        try:
            state = path.stat()
            news = replace(news, size_bytes=state.st_size, modified_ns=state.st_mtime_ns)
            return self._taken(news)
        except MemoryError:
            why = "It is too large for the memory of this machine. Capture a shorter stretch."
        except (TwinslotError, OSError) as error:
            why = str(error)
        except Exception as error:  # noqa: BLE001 - one file must not end a watch of days
            why = unforeseen(error)
        self._broken.add(path)
        return replace(news, words=f"{path.name}: broken. {why}")

    def _taken(self, news: News) -> News:
        path = news.path
        capture = read_capture(path, **self._reading.arguments, most_bytes=self._largest_bytes)
        self._broken.discard(path)
        mark = bytes.fromhex(capture.sha256)
        news = replace(news, sha256=capture.sha256)
        if mark in self._seen:
            self._again += 1
            same = f"{path.name}: the same bytes as {self._seen[mark]}, not counted"
            return replace(news, status="seen already", words=same)
        outcome = read_against(self._against, self._named(capture)).outcome
        self._seen[mark] = path.name
        self.table = self.table.with_outcome(outcome)
        news = replace(news, outcome=outcome)
        if not outcome.counts:
            return replace(news, status="cannot tell", words=f"{path.name}: cannot tell. {outcome.reason}")
        if not outcome.differs:
            return replace(news, status="agrees", words=f"{path.name}: {_agrees(outcome)}")
        self._last = news.at
        return replace(news, status="diverges", words=f"{path.name}: {_departs(outcome)}")

    def resume(self, record: Record, folder: Path) -> None:
        """Goes on with the counts of an older watch of the folder, and lets go of its rows."""
        for row in record.kept:
            path = folder / row.name
            if row.status == "broken":
                self._broken.add(path)
                continue
            self._broken.discard(path)
            if row.status == "seen already":
                self._again += 1
                continue
            self._seen[bytes.fromhex(row.sha256)] = row.name
            if row.outcome is not None:
                self.table = self.table.with_outcome(row.outcome)
            if row.status == "diverges":
                self._last = row.when[11:19]
        record.kept = ()


def _agrees(outcome: CaptureOutcome) -> str:
    but = [] if outcome.slips is None else [outcome.slips.words]
    if outcome.shifted:
        signal, shift = outcome.shifted[0]
        more = f" ({len(outcome.shifted) - 1} more are off too)" if len(outcome.shifted) > 1 else ""
        but.append(f"{signal} {shift.words}{more}")
    where = "" if outcome.slips is None else " in every matched cycle"
    return f"agrees{where}" + (f", but {'; '.join(but)}" if but else "")


def _departs(outcome: CaptureOutcome) -> str:
    if outcome.first is None:
        return f"diverges by slips alone: it {_agrees(outcome)}"
    cycle = "" if outcome.first_cycle is None else f" at cycle {group_digits(outcome.first_cycle)}"
    others = sorted(outcome.diverges - {outcome.first or ""})
    also = f"; then {few_names(others, 4)}"
    slips = "" if outcome.slips is None else "; takes other cycles too"
    return f"diverges, first {outcome.first}{cycle}{also if others else ''}{slips}"


def run_soak(
    soak: Soak,
    watch: FolderWatch,
    tell: Callable[[News], None],
    stop: threading.Event,
    most: int | None = None,
    stop_after_s: float | None = None,
) -> None:
    """Takes what lands in the folder until ``stop`` is set, ``most`` captures were compared, or the time is up."""
    import time

    end = None if stop_after_s is None else time.monotonic() + stop_after_s
    watch.start()
    try:
        while not stop.is_set() and (most is None or soak.table.captures < most):
            for path in watch.ready():
                if not watch.still(path):
                    continue
                tell(soak.take(path))
                if stop.is_set() or (most is not None and soak.table.captures >= most):
                    return
                if end is not None and time.monotonic() >= end:
                    return
            left = None if end is None else end - time.monotonic()
            if left is not None and left <= 0:
                return
            watch.wait(LOOK_S if left is None else min(LOOK_S, left))
    finally:
        watch.stop()

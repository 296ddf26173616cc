"""Captures that come one by one against the known-good ones: each is compared, counted and let go."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

from app.comparison_text import shifting_sentence, slipping_sentence
from app.soak.folder_watch import LOOK_S, FolderWatch
from app.trouble_log import unforeseen
from tracecore.capture_series import Reference, read_against
from tracecore.errors import CaptureFileError, TwinslotError
from tracecore.quantities import group_digits
from tracecore.readers import read_capture
from tracecore.readers.settings import ReadSettings
from tracecore.repeats.table import CaptureOutcome, RepeatTable

Status = Literal["agrees", "diverges", "not compared", "broken", "seen already"]


@dataclass(frozen=True, slots=True)
class News:
    """What one file said. ``at`` is when it was taken, as ``14:02:31``; ``words`` is the line to print."""

    path: Path
    at: str
    status: Status
    words: str
    outcome: CaptureOutcome | None = None


@dataclass(frozen=True, slots=True)
class Count:
    """How many files of each kind there were; ``last`` is when one diverged last, empty where none did."""

    agrees: int = 0
    diverges: int = 0
    not_compared: int = 0
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
        others = (("not compared", self.not_compared), ("broken", self.broken), ("twice there", self.seen_already))
        return "; ".join([text, *(f"{group_digits(n)} {what}" for what, n in others if n)])


class Soak:
    """``take`` gives the news of one file. ``table`` has the counts by signal; memory does not grow with the captures
    but for 32 bytes each, by which one that lies there twice is known again."""

    def __init__(
        self,
        against: Reference,
        reading: ReadSettings | None = None,
    ) -> None:
        self._against, self._reading = against, reading or ReadSettings()
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
        at = f"{datetime.now():%H:%M:%S}"
        try:
            return self._taken(path, at)
        except MemoryError:
            why = "It is too large for the memory of this machine. Capture a shorter stretch."
        except TwinslotError as error:
            why = str(error)
        except Exception as error:  # noqa: BLE001 - one file must not end a watch of days
            why = unforeseen(error)
        self._broken.add(path)
        return News(path, at, "broken", f"{path.name}: broken. {why}")

    def _taken(self, path: Path, at: str) -> News:
        try:
            capture = read_capture(path, **self._reading.arguments)
        except (CaptureFileError, OSError) as error:
            self._broken.add(path)
            return News(path, at, "broken", f"{path.name}: broken. {error}")
        self._broken.discard(path)
        mark = bytes.fromhex(capture.sha256)
        if mark in self._seen:
            self._again += 1
            return News(path, at, "seen already", f"{path.name}: the same bytes as {self._seen[mark]}, not counted")
        self._seen[mark] = path.name
        outcome = read_against(self._against, capture).outcome
        self.table = self.table.with_outcome(outcome)
        if not outcome.counts:
            return News(path, at, "not compared", f"{path.name}: not compared. {outcome.reason}", outcome)
        if not outcome.differs:
            return News(path, at, "agrees", f"{path.name}: {_agrees(outcome)}", outcome)
        self._last = at
        return News(path, at, "diverges", f"{path.name}: {_departs(outcome)}", outcome)


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
    also = f"; then {', '.join(others[:4])}" + (f" and {len(others) - 4} more" if len(others) > 4 else "")
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
        while not stop.is_set():
            for path in watch.ready():
                tell(soak.take(path))
                if stop.is_set() or (most is not None and soak.table.captures >= most):
                    return
            left = None if end is None else end - time.monotonic()
            if left is not None and left <= 0:
                return
            watch.wait(LOOK_S if left is None else min(LOOK_S, left))
    finally:
        watch.stop()

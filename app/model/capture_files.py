"""Files to captures as a case holds them: with what was said of them, and with what is to be asked about them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from app.case.record import Side
from app.case.shelf import hold
from app.case.side_names import file_channels, named
from app.case.values import HeldCapture
from tracecore.errors import CaptureFileError
from tracecore.file_name import file_name
from tracecore.readers.settings import ReadSettings

if TYPE_CHECKING:
    from tracecore.capture import Capture

Taken = tuple[HeldCapture, "Capture"]
"""What the case keeps of a capture, and the capture."""


Wishes = dict[Path, ReadSettings]


@dataclass(frozen=True, slots=True)
class Unsure:
    """A file that cannot be taken as it is: the person looks at it, says what it is, or leaves it out.

    ``instead`` is the place, on that side, of the capture whose place it was to take.
    """

    side: Side
    paths: tuple[Path, ...]
    wishes: Wishes
    path: Path
    error: CaptureFileError
    instead: int | None = None

    @property
    def sentence(self) -> str:
        """What is wrong with it."""
        return str(self.error)


@dataclass(frozen=True, slots=True)
class Apart:
    """Files for one side that hold no signal in common."""

    side: Side
    paths: tuple[Path, ...]
    wishes: Wishes


def read_all(paths: Sequence[Path], tell: Callable[[float, str], None]) -> tuple[Taken, ...]:
    """Reads files of which nothing was said. Raises CaptureFileError for the first that cannot be taken."""
    found = []
    for i, path in enumerate(paths):
        tell(i / len(paths), f"reading {path.name}")
        found.append(read_one(path, ReadSettings(), tell))
    return tuple(found)


def read_one(path: Path, wish: ReadSettings, tell: Callable[[float, str], None]) -> Taken:
    """Reads a file with what was said of it. Raises CaptureFileError."""
    from tracecore.readers import read_capture

    capture = read_capture(path, progress=tell, **wish.arguments)
    return hold(capture, sample_rate=wish.sample_rate_hz, layout=wish.layout, said=wish.said), capture


def in_place_of(before: HeldCapture, capture: HeldCapture) -> HeldCapture:
    """A capture that takes the place of another keeps what was said of it by hand: name, note and time.

    Where it is the same file, read in another way, leads that were swapped or left alone stay so.
    """
    by_hand = before.name != file_name(before.path)
    kept = replace(capture, name=before.name if by_hand else capture.name, note=before.note, taken=before.taken)
    if before.sha256 != capture.sha256:
        return kept
    if not Path(before.path).is_file():
        # it was read from a copy out of the case
        kept = replace(kept, path=before.path, name=before.name)
    if file_channels(before) == file_channels(capture):
        swaps, inverted, unread = named(before, None, ()).clipping
        return replace(kept, swaps=swaps, inverted=inverted, unread=unread, left_alone=before.left_alone)
    return kept


def files_of(paths: Sequence[Path]) -> list[Path]:
    """Files as they are; of a folder the files right inside it."""
    found: list[Path] = []
    for path in paths:
        found += sorted(p for p in path.iterdir() if p.is_file()) if path.is_dir() else [path]
    return found


def sheets_among(paths: Sequence[str | Path]) -> tuple[list[Path], list[Path]]:
    """The probe sheets among files that came together, and the others."""
    from tracecore.circuit.probe_sheet import begins_as_sheet

    sheets: list[Path] = []
    others: list[Path] = []
    for path in map(Path, paths):
        (sheets if begins_as_sheet(path) else others).append(path)
    return sheets, others

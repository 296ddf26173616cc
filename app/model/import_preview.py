"""A look into a file before it is taken: its first lines, and what they are taken for. Nothing here knows Qt.

The first lines are read by the readers themselves, so that the look tells what the whole file will be taken for.
"""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from app.comparison_text import capture_line
from app.model.raw_text import Marked, RawLine, lines_around, marked, plain_lines
from tracecore.errors import CaptureFileError, MissingSampleRate, MissingWordBase
from tracecore.own_names import CYCLE_ROWS, EACH_ROW, file_channels
from tracecore.quantities import format_time
from tracecore.readers.settings import ReadSettings

if TYPE_CHECKING:
    import numpy as np

    from tracecore.capture import Capture
    from tracecore.readers.source import Head

AROUND = 6
VALUES_SHOWN = 12
LEVELS = "01x"
SAY_IT = {
    "sample rate": "Type it under Sample rate, as 24 MHz. If the board's own clock took each row, choose cycle rows "
    "under Layout.",
    "time unit": "Choose it under Times are in.",
    "word base": "Choose it under Words are in.",
    "layout": "Choose one under Layout.",
}
"""What to do about what a file lacks."""
OR_SAY = "Say below what this column is, or correct the line and look again."


@dataclass(frozen=True, slots=True)
class TakenChannel:
    """One channel as it was taken: "logic" or "volts", its unit, its first values as text."""

    name: str
    kind: str
    unit: str
    first: str


@dataclass(frozen=True, slots=True)
class TakenColumn:
    """One column of the rows, whether or not the file can be taken as it is.

    ``kind`` is what it is taken for, ``said`` the text of what was said of it ("volts x10"), ``first`` its first
    values; ``wrong`` names the cell that an error is about, with its line.
    """

    name: str
    title: str
    kind: str
    said: str
    first: str
    wrong: str = ""


@dataclass(frozen=True, slots=True)
class Preview:
    """What was found. ``ready`` where the first lines can be taken; ``sentence`` says as what, or why not.

    ``lacks`` names what the file does not say and a person can: "sample rate", "time unit", "word base", "layout", or
    nothing.
    ``delimiter`` is the one that was found, ``first_row`` the line at which data begin, where that is known.
    ``columns`` are there for every file of rows, ``channels`` only where they can be taken.
    """

    path: Path
    wish: ReadSettings
    lines: tuple[RawLine, ...]
    sentence: str
    ready: bool
    channels: tuple[TakenChannel, ...] = ()
    layouts: tuple[str, ...] = ()
    layout: str = ""
    delimiter: str = ""
    first_row: int | None = None
    lacks: str = ""
    mark: Marked | None = None
    shape: str = ""
    columns: tuple[TakenColumn, ...] = ()

    @property
    def choices(self) -> tuple[str, ...]:
        """The layouts that can be chosen: whether the board's own clock took the rows no file says."""
        if self.columns and not self.has_volts:
            return (*self.layouts, CYCLE_ROWS)
        return self.layouts

    @property
    def has_volts(self) -> bool:
        """Is a scale of volts of any use?"""
        return any(taken.kind == "volts" for taken in self.channels) or any(c.kind == "volts" for c in self.columns)


def preview(path: Path, wish: ReadSettings, error: CaptureFileError | None = None) -> Preview:
    """Looks into a file with what was said of it.

    ``error`` is what reading the whole file met with the same wish; its place is shown then.
    """
    from tracecore.readers.source import Source

    try:
        source = Source(path, delimiter=wish.delimiter, first_row=wish.first_row)
        try:
            plain = source.take_head()
            head = source.head()
        finally:
            source.close()
    except CaptureFileError as told:
        return Preview(path, wish, (), str(told), False)
    lines = plain_lines(plain)
    base = Preview(
        path, wish, lines, "", False, layouts=claims(head), delimiter=head.delimiter, first_row=_first_row(head)
    )
    base = replace(base, shape=shape_name(head), columns=_columns(head, wish))
    if error is not None:
        return _refused(base, error)
    try:
        capture = _read_head(path, plain, head.whole, wish)
    except CaptureFileError as told:
        return _refused(base, told)
    channels = tuple(_taken(capture))
    return replace(
        base,
        ready=True,
        layout=capture.reader,
        channels=channels,
        columns=_as_taken(base.columns, channels),
        sentence=_taken_words(capture, head.whole),
    )


def _columns(head: Head, wish: ReadSettings) -> tuple[TakenColumn, ...]:
    """The columns as they look, or as they were said to be; none for a dump and for what has no rows."""
    from tracecore.readers.plan.column_choice import parse_choice
    from tracecore.readers.recognise.plan_of import plan_of

    plan = plan_of(head, [name for name, _ in wish.columns])
    if plan is None:
        return ()
    said = {plan.place(name): text for name, text in wish.columns}
    timed = any(parse_choice(text).kind == "time" for text in said.values())
    found = []
    for place, column in enumerate(plan.columns):
        text = said.get(place, "")
        guess = column.second_guess if timed and column.kind == "time" else column.kind
        kind = (parse_choice(text).kind or "volts") if text else guess
        found.append(TakenColumn(column.name, column.title, kind, text, "  ".join(column.cells[:VALUES_SHOWN])))
    return tuple(found)


def _as_taken(columns: tuple[TakenColumn, ...], channels: tuple[TakenChannel, ...]) -> tuple[TakenColumn, ...]:
    """With kind and values as the capture has them, for columns that became one channel."""
    named = {channel.name: channel for channel in channels}
    return tuple(
        replace(column, kind=named[column.name].kind, first=named[column.name].first)
        if column.name in named and column.kind != "time"
        else column
        for column in columns
    )


def claims(head: Head) -> tuple[str, ...]:
    """Names of the layouts that the file can be taken for; one whose reader balks at the heading counts too."""
    from tracecore.readers import READERS

    found = []
    for reader in READERS:
        try:
            claimed = reader.recognises(head)
        except CaptureFileError:
            claimed = True
        if claimed:
            found.append(reader.name)
    return tuple(found)


def _first_row(head: Head) -> int | None:
    from tracecore.readers.recognise.known import known

    found = known(head).taken()
    return None if found is None else found.data_line + 1


def shape_name(head: Head) -> str:
    """A name that files of the same shape share: delimiter, cells of a row, and the words above the rows."""
    first = (_first_row(head) or 1) - 1
    words = ["".join(c for c in line if not c.isdecimal()) for line in head.lines[: min(first, 40)]]
    row = next((i for i in range(min(first, len(head.lines) - 1), len(head.lines)) if head.lines[i].strip()), None)
    width = len(head.cells(row)) if row is not None else 0
    return hashlib.sha256("\n".join([head.delimiter, str(width), *words]).encode()).hexdigest()[:16]


def _read_head(path: Path, plain: bytes, whole: bool, wish: ReadSettings) -> Capture:
    """The capture that the first lines alone make. Errors name the file itself."""
    from tracecore.readers import read_capture

    rows = plain if whole or b"\n" not in plain else plain[: plain.rindex(b"\n") + 1]
    with tempfile.TemporaryDirectory(prefix="twinslot-look-") as folder:
        part = Path(folder) / path.name
        part.write_bytes(rows)
        try:
            return read_capture(part, name=path.name, **wish.arguments)
        except CaptureFileError as error:
            lacking = (MissingSampleRate, MissingWordBase)
            told = type(error) if isinstance(error, lacking) else CaptureFileError
            raise told(
                path,
                found=error.found,
                expected=error.expected,
                do=error.do,
                line=error.line,
                column=error.column,
            ) from error


def _refused(base: Preview, error: CaptureFileError) -> Preview:
    lines = base.lines
    if error.line is not None and error.line > len(lines) - AROUND:
        lines = (*lines[: min(AROUND, len(lines))], *lines_around(base.path, error.line, AROUND))
        lines = tuple({line.number: line for line in lines}.values())
    lacks = ""
    if isinstance(error, MissingSampleRate):
        lacks = "time unit" if error.line is not None else "sample rate"
    elif isinstance(error, MissingWordBase):
        lacks = "word base"
    elif len(base.layouts) > 1 and base.wish.layout is None:
        lacks = "layout"
    mark = marked(lines, error, base.delimiter)
    named = mark is not None and error.column is not None and bool(base.columns)
    do = SAY_IT.get(lacks, OR_SAY if named else "")
    told = replace(base, lines=lines, sentence=_sentence(error, do), lacks=lacks, mark=mark)
    return replace(told, columns=_marked_column(told, error.column))


def _marked_column(told: Preview, column: int | None) -> tuple[TakenColumn, ...]:
    """The column of the cell that the error names says so."""
    if told.mark is None or told.lacks or column is None or not 1 <= column <= len(told.columns):
        return told.columns
    text = next(line.text for line in told.lines if line.number == told.mark.line)
    cell = text[told.mark.start : told.mark.stop].strip() or "nothing"
    columns = list(told.columns)
    columns[column - 1] = replace(columns[column - 1], wrong=f"{cell} in line {told.mark.line}")
    return tuple(columns)


def _sentence(error: CaptureFileError, do: str) -> str:
    """What is wrong, and what can be done about it here."""
    if not do:
        return str(error)
    told = CaptureFileError(
        error.path, found=error.found, expected=error.expected, do=do, line=error.line, column=error.column
    )
    return str(told)


def _taken(capture: Capture) -> Iterator[TakenChannel]:
    for name in file_channels(capture.channels, capture.reader):
        if name in capture.digital:
            trace = capture.digital[name]
            yield TakenChannel(name, "logic", "", " ".join(LEVELS[level] for level in trace.level_at(_times(capture))))
        else:
            volts = capture.analog[name].volts[: VALUES_SHOWN // 2]
            yield TakenChannel(name, "volts", "V", "  ".join(f"{float(v):.4g}".replace("-", "\u2212") for v in volts))


def _times(capture: Capture) -> np.ndarray:
    """The first samples of a capture in even steps; else the first times at which any channel changes."""
    import numpy as np

    if "change" in capture.reader:
        heads = [trace.times_ps[:VALUES_SHOWN] for trace in capture.digital.values()]
        return np.unique(np.concatenate(heads))[:VALUES_SHOWN]
    if capture.row_is_cycle:
        return capture.digital[EACH_ROW].transitions_ps[: 2 * VALUES_SHOWN : 2] + capture.resolution_ps
    steps = np.arange(VALUES_SHOWN, dtype=np.int64) * capture.resolution_ps
    times = capture.start_ps + steps
    return times[times < capture.stop_ps]


def _taken_words(capture: Capture, whole: bool) -> str:
    starts = f" from {format_time(capture.start_ps)}" if capture.start_ps else ""
    if whole:
        return f"Taken as {capture_line(capture)}{starts}."
    channels = len(file_channels(capture.channels, capture.reader))
    rate = dict(capture.facts).get("sample rate")
    pace = f" · {rate}" if rate else ""
    return f"Taken as {capture.reader}{pace} · {channels} channel{'s' if channels != 1 else ''}{starts}."

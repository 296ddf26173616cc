"""Value change dumps (IEEE Std 1364-2005, clause 18, four states).

$timescale 1 ns $end
$var wire 1 ! CLK $end
$enddefinitions $end
#0 0!                    CLK is low from the start, and high from 10 ns on
#10 1!
"""

from __future__ import annotations

import re

import numpy as np

from tracecore.capture import UNKNOWN, Capture, DigitalTrace, Int64, UInt8, digital_trace
from tracecore.errors import MalformedCapture
from tracecore.name_lists import few_names
from tracecore.quantities import format_time
from tracecore.readers.dump.changes import DumpChanges
from tracecore.readers.dump.declarations import begins_as_dump, read_dump_heading
from tracecore.readers.source import Head, ReadOptions, Source, text_of
from tracecore.readers.traces.sample_period import sample_grid

NAME = "value change dump"
BLOCK = 1 << 20
_LARGEST_HEADING = 1 << 26
_DEFINED = re.compile(rb"(?<!\S)\$enddefinitions\s+\$end(?!\S)")


def recognises(head: Head) -> bool:
    """A declaration comes first, and there is one that only a dump has."""
    if not begins_as_dump(head):
        return False
    words = " ".join(head.lines).split()
    return any(word in words for word in ("$timescale", "$scope", "$var"))


def read_dump(source: Source, options: ReadOptions) -> Capture:
    """Reads all variables that hold logic, vectors bit by bit; x and z are unknown, reals are left out with a note.

    A time mark without changes at the end of the file is the end of the capture; a last word without white space
    behind it may be cut short, and is left out with a note. Raises MalformedCapture with the line.
    """
    text, rest, line = _to_definitions(source)
    heading = read_dump_heading(source.path, text)
    carried = heading.carried
    changes = DumpChanges(source.path, heading.variables, heading.unit_ps, carried.zero_ps, line)
    notes = _read_changes(source, rest, changes)
    if changes.first_ps is None:
        raise MalformedCapture(
            source.path,
            line=changes.line,
            found="no time behind the declarations",
            expected="a time such as #0",
            do="Export the dump again.",
        )
    unit = max(1, round(heading.unit_ps))
    resolution, how = _resolution(changes, unit)
    if carried.resolution_ps is not None:
        resolution, how = carried.resolution_ps, "as the file says"
    lasts = changes.last_changes and carried.stop_ps != changes.last_ps
    stop = changes.last_ps + (resolution if lasts else 0)
    traces = [_trace(times, levels, changes.start_ps, stop) for times, levels in changes.entries()]
    if heading.left_out:
        left_out = few_names(heading.left_out, 5)
        notes += (f"Without logic and left out: {left_out} (real numbers, events or texts).",)
    facts = (("resolution", how), *heading.facts)
    digital = {name: traces[bit] for name, bit in heading.names}
    return Capture(options.name, digital, {}, resolution, NAME, source.path, source.sha256(), facts, notes)


def _to_definitions(source: Source) -> tuple[str, bytes, int]:
    """Everything up to ``$enddefinitions $end`` as text, the bytes that were read behind it, and their line."""
    raw = source.take_head()
    while (end := _DEFINED.search(raw)) is None or end.end() == len(raw):
        more = source.read(BLOCK) if len(raw) < _LARGEST_HEADING else b""
        if not more:
            break
        raw += more
    if end is None:
        raise MalformedCapture(
            source.path,
            line=raw.count(b"\n") + 1,
            found="the end of the declarations nowhere",
            expected="$enddefinitions $end",
            do="Export the dump again.",
        )
    return text_of(raw[: end.end()])[0], raw[end.end() :], raw.count(b"\n", 0, end.end()) + 1


def _read_changes(source: Source, text: bytes, changes: DumpChanges) -> tuple[str, ...]:
    while more := source.read(BLOCK):
        text += more
        cut = _last_space(text)
        if cut:
            text = text[changes.add(text[:cut]) :]
        elif len(text) > 2 * BLOCK:
            break
    cut = _last_space(text)
    whole, left = text[:cut], text[cut:]
    left = whole[changes.add(whole) :] + left if cut else left
    if changes.is_whole(left):
        changes.add(left + b"\n")
        left = b""
    changes.check_end()
    notes: tuple[str, ...] = ()
    if left.strip():
        line = changes.line + left[: len(left) - len(left.lstrip())].count(b"\n")
        word = left.split()[0][:40].decode("latin-1")
        notes += (f"The last word {word!r} (line {line}) may be cut short and is left out.",)
    if changes.section:
        notes += (f"The file ends within {changes.section}: it is cut short.",)
    return notes


def _last_space(text: bytes) -> int:
    """Bytes up to and with the last white space."""
    return max(text.rfind(mark) for mark in b"\n \t\r\v\f") + 1


def _resolution(changes: DumpChanges, unit_ps: int) -> tuple[int, str]:
    steps = np.concatenate([np.empty(0, np.int64), *changes.steps])
    grid = sample_grid(steps, unit_ps)
    if grid is not None:
        return grid[0], f"{format_time(grid[0])}, the step that the times lie on{grid[1]}"
    return unit_ps, f"{format_time(unit_ps)}, the time scale of the dump; the instrument may be coarser"


def _trace(times: Int64, levels: UInt8, start_ps: int, stop_ps: int) -> DigitalTrace:
    """The last of the changes at one time holds; what is not said yet is unknown."""
    if not len(times) or int(times[0]) > start_ps:
        times = np.concatenate([np.array([start_ps], np.int64), times])
        levels = np.concatenate([np.array([UNKNOWN], np.uint8), levels])
    last = np.concatenate((times[1:] > times[:-1], [True]))
    return digital_trace(times[last], levels[last], stop_ps)

"""Which pin each channel was clipped to. One sheet serves both sides.

A sheet is CSV with a heading line, so that any spreadsheet can write it:
``channel,signal,slot,pin,active,family,bus,bit,driver,note,receiver,into``. Only ``channel`` and ``signal`` are
required; columns may stand in any order, further columns are refused by name.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable
from dataclasses import dataclass, field, fields, replace
from pathlib import Path

from tracecore.csv_cells import csv_text, unguarded
from tracecore.errors import SheetError
from tracecore.own_names import logic_beside, volts_beside


@dataclass(frozen=True, slots=True)
class Probe:
    """One row: the channel's name in the capture, and what it was clipped to.

    ``active`` is "high" or "low"; ``bit`` is None outside a bus, and is counted by the board's own numbering,
    ``bit`` 0 being the least significant; ``driver`` is the pin that drives the net, as ``6-B22``. ``family`` is that
    of the driving part, ``receiver`` that of the input that reads it (the same where empty), ``into`` the number of the
    part that takes the signal in, with a pin where that matters (``74161 LOAD_n``).
    """

    channel: str
    signal: str
    slot: str = ""
    pin: str = ""
    active: str = "high"
    family: str = ""
    bus: str = ""
    bit: int | None = None
    driver: str = ""
    note: str = ""
    receiver: str = ""
    into: str = ""


COLUMNS: tuple[str, ...] = tuple(f.name for f in fields(Probe))


@dataclass(frozen=True, slots=True)
class ProbeSheet:
    """The rows of a sheet, in order. Raises SheetError where a channel or a signal stands twice."""

    probes: tuple[Probe, ...] = ()
    path: str = ""
    _by_channel: dict[str, Probe] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        for what in ("channel", "signal"):
            seen: dict[str, int] = {}
            for row, probe in enumerate(self.probes, start=2):
                name = getattr(probe, what)
                if name in seen:
                    raise SheetError(
                        self.path or "probe sheet",
                        line=row,
                        found=f"{what} {name!r} a second time",
                        expected=f"each {what} once (it stands in line {seen[name]} already)",
                        do="Give one of the two another name or take it out.",
                    )
                seen[name] = row
        object.__setattr__(self, "_by_channel", {p.channel: p for p in self.probes})

    def probe(self, channel: str) -> Probe:
        """The row of a channel; a channel that is not on the sheet serves as its own signal name. Volts that stand
        beside their logic have the row of that, and are a signal of their own."""
        found, logic = self._by_channel.get(channel), self._by_channel.get(logic_beside(channel))
        if found is None and logic is not None:
            return replace(logic, channel=channel, signal=volts_beside(logic.signal), bus="", bit=None)
        return found if found is not None else Probe(channel, channel)

    def row_of(self, signal: str) -> Probe:
        """The row of a signal, likewise."""
        by_signal = {probe.signal: probe.channel for probe in self.probes}
        if logic := by_signal.get(logic_beside(signal)):
            return self.probe(volts_beside(logic))
        return self.probe(by_signal.get(signal, signal))

    def named(self, channel: str) -> bool:
        """Is this channel on the sheet?"""
        return channel in self._by_channel


def read_probe_sheet(path: str | Path) -> ProbeSheet:
    """Reads a sheet. Raises SheetError with line and column where a cell cannot be taken."""
    try:
        raw = Path(path).read_bytes()
    except OSError as error:
        raise SheetError(
            path,
            found=f"no readable file ({error.strerror})",
            expected="a probe sheet (CSV)",
            do="Check the name.",
        ) from error
    if b"\0" in raw[:4096]:
        raise SheetError(
            path,
            found="bytes that are not text",
            expected="a probe sheet (CSV)",
            do="Save the sheet as CSV from the spreadsheet.",
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("latin-1")
    return parse_probe_sheet(text, str(path))


def begins_as_sheet(path: str | Path) -> bool:
    """Does a file's first line name the columns that each sheet has? False too where it cannot be read."""
    try:
        with Path(path).open("rb") as file:
            first = file.readline(4096)
    except OSError:
        return False
    cells = re.split(r"[,;\t]", first.decode("latin-1").removeprefix("ï»¿").strip().lower())
    return {"channel", "signal"} <= {cell.strip(' "') for cell in cells}


def parse_probe_sheet(text: str, path: str = "probe sheet") -> ProbeSheet:
    """Takes the text of a sheet.

    >>> parse_probe_sheet("channel,signal,pin\\n0,MCLK,A01\\n").probe("0").pin
    'A01'
    """
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    rows = csv.reader(io.StringIO(text), delimiter=delimiter)
    heading = [cell.strip().lower() for cell in next(rows, [])]
    _check_heading(heading, path)
    probes = []
    for row in rows:
        if not any(unguarded(cell.strip()) for cell in row):
            continue
        if len(row) != len(heading):
            raise SheetError(
                path,
                line=rows.line_num,
                found=f"{len(row)} cells",
                expected=f"{len(heading)} as in the heading",
                do="Fill or remove cells in this row.",
            )
        cells = dict(zip(heading, (unguarded(cell.strip()) for cell in row), strict=True))
        probes.append(_probe(cells, heading, path, rows.line_num))
    if not probes:
        raise SheetError(
            path,
            found="no rows under the heading",
            expected="a row for each channel",
            do="Add a row for each channel that was clipped on.",
        )
    return ProbeSheet(tuple(probes), path)


def _check_heading(heading: list[str], path: str) -> None:
    for column, name in enumerate(heading, start=1):
        if name not in COLUMNS or heading.index(name) != column - 1:
            raise SheetError(
                path,
                line=1,
                column=column,
                found=f"heading {name!r}",
                expected="each of these at most once: " + ",".join(COLUMNS),
                do="Rename or remove this column.",
            )
    for name in ("channel", "signal"):
        if name not in heading:
            raise SheetError(
                path,
                line=1,
                found=f"no column {name!r}",
                expected="the columns channel and signal",
                do="Add it to the heading line.",
            )


def _probe(cells: dict[str, str], heading: list[str], path: str, line: int) -> Probe:
    def bad(name: str, expected: str) -> SheetError:
        return SheetError(
            path,
            line=line,
            column=heading.index(name) + 1,
            found=f"{cells[name]!r} as {name}",
            expected=expected,
            do="Correct this cell.",
        )

    for name in ("channel", "signal"):
        if not cells[name]:
            raise bad(name, f"a {name} name")
    active = cells.get("active", "").lower() or "high"
    if active not in ("high", "low"):
        raise bad("active", "high or low")
    bit: int | None = None
    if cells.get("bit", "") not in ("", "-"):
        if not cells["bit"].isdecimal():
            raise bad("bit", "a whole number from 0 on")
        bit = int(cells["bit"])
    plain = {k: v for k, v in cells.items() if k not in ("active", "bit")}
    return Probe(**plain, active=active, bit=bit)


def write_probe_sheet(probes: Iterable[Probe]) -> str:
    """The text of a sheet, with every column; read back, it is the same."""
    return csv_text(COLUMNS, ([getattr(probe, c) for c in COLUMNS] for probe in probes))

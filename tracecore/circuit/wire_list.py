"""Which nets feed which part: a plain list that need not be complete.

A wire list is CSV with the heading ``part,kind,output,inputs``; columns may stand in any order. ``kind`` is ``gate``
(the output follows its inputs within the cycle), ``register`` (it shows what the inputs were in the cycle before) or
``enabled register`` (one that keeps what it has unless an input tells it to take something in; counters and shift
registers are of this kind too); ``memory`` is any part whose output hangs on more than its inputs. ``three-state`` and
``open collector`` are gates whose outputs may share a net.
``inputs`` are net names parted by spaces. A part with several outputs has a row for each; a net that several parts
drive stands in several rows. Nets are named as the signals on the probe sheet; those not captured may stand there too.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from tracecore.csv_cells import csv_text, unguarded
from tracecore.errors import SheetError
from tracecore.file_name import file_name
from tracecore.notices import Notice, notice

Kind = Literal["gate", "register", "enabled register", "memory", "three-state", "open collector"]
KINDS: tuple[Kind, ...] = ("gate", "register", "enabled register", "memory", "three-state", "open collector")
SHARING: tuple[Kind, ...] = ("three-state", "open collector")
"""Kinds whose outputs may share a net."""
CLOCKED: tuple[Kind, ...] = ("register", "enabled register")
"""Kinds whose outputs show what the inputs were in the cycle before."""
COLUMNS = ("part", "kind", "output", "inputs")


@dataclass(frozen=True, slots=True)
class Wired:
    """One output of a part and the nets it is made from."""

    part: str
    kind: Kind
    output: str
    inputs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WireList:
    """The rows of a list, in order."""

    rows: tuple[Wired, ...] = ()
    path: str = ""

    def drivers(self, net: str) -> tuple[Wired, ...]:
        """The rows whose output is this net: none where the list does not know, several on a bus."""
        return tuple(row for row in self.rows if row.output == net)

    def use(self, captured: Collection[str]) -> str:
        """One sentence that says that the list was used, and how much of it the captures reach."""
        whole = sum(all(net in captured for net in (row.output, *row.inputs)) for row in self.rows)
        name = f" {file_name(self.path)}" if self.path else ""
        count = f"{len(self.rows)} row{'' if len(self.rows) == 1 else 's'}"
        return f"Wire list{name} used for the likely causes: {count}, {whole} with every net captured."

    def notices(self, captured: Collection[str]) -> tuple[Notice, ...]:
        """What makes one doubt the list: it names nothing that was captured, or two plain outputs on one net."""
        out = []
        if not any(net in captured for row in self.rows for net in (row.output, *row.inputs)):
            few = ", ".join(sorted(captured)[:3])
            out.append(
                notice(
                    "wire_list_foreign",
                    "The wire list names no captured signal, so it says nothing of the causes.",
                    f"Name its nets as the signals are named ({few}).",
                )
            )
        for net in dict.fromkeys(row.output for row in self.rows):
            rows = self.drivers(net)
            if len(rows) > 1 and any(row.kind not in SHARING for row in rows):
                parts = ", ".join(row.part for row in rows)
                text = f"The wire list lets {len(rows)} parts drive {net} ({parts})."
                out.append(notice("wire_list_two_drivers", text, signals=(net,)))
        return tuple(out)


def read_wire_list(path: str | Path) -> WireList:
    """Reads a list. Raises SheetError with line and column where a cell cannot be taken."""
    try:
        text = Path(path).read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise SheetError(
            path, found=f"no readable file ({error.strerror})", expected="a wire list (CSV)", do="Check the name."
        ) from error
    except UnicodeDecodeError as error:
        raise SheetError(
            path,
            found="bytes that are not UTF-8 text",
            expected="a wire list (CSV)",
            do="Save the list as CSV in UTF-8 from the spreadsheet.",
        ) from error
    return parse_wire_list(text, str(path))


def parse_wire_list(text: str, path: str = "wire list") -> WireList:
    """Takes the text of a list.

    >>> parse_wire_list("part,kind,output,inputs\\nU7,gate,SUM,A B\\n").drivers("SUM")[0].inputs
    ('A', 'B')
    """
    first = text.split("\n", 1)[0]
    rows = csv.reader(io.StringIO(text), delimiter=max(",;\t", key=first.count))
    try:
        taken = _rows(rows, path)
    except csv.Error as error:
        raise SheetError(
            path,
            line=rows.line_num,
            found=f"a row that is no CSV ({error})",
            expected="cells parted by commas",
            do="Correct the quotes in this row.",
        ) from error
    if not taken:
        raise SheetError(
            path,
            found="no rows under the heading",
            expected="a row for each output of a part",
            do="Add a row such as U7,gate,SUM,A B.",
        )
    return WireList(taken, path)


def write_wire_list(rows: Iterable[Wired]) -> str:
    """The text of a list; read back, it is the same."""
    return csv_text(COLUMNS, ((row.part, row.kind, row.output, " ".join(row.inputs)) for row in rows))


def _rows(rows: Any, path: str) -> tuple[Wired, ...]:
    heading = [cell.strip().lower() for cell in next(rows, [])]
    if sorted(heading) != sorted(COLUMNS):
        raise SheetError(
            path,
            line=1,
            found=f"the heading {','.join(heading)!r}",
            expected="the columns " + ",".join(COLUMNS),
            do="Put this heading in the first line.",
        )
    taken: list[Wired] = []
    seen: dict[tuple[str, str], int] = {}
    for cells in rows:
        if not any(cell.strip() for cell in cells):
            continue
        row = _row(heading, [unguarded(cell.strip()) for cell in cells], path, rows.line_num)
        before = seen.setdefault((row.part, row.output), rows.line_num)
        if before != rows.line_num:
            raise SheetError(
                path,
                line=rows.line_num,
                found=f"output {row.output!r} of {row.part} a second time",
                expected=f"each output of a part once (it stands in line {before} already)",
                do="Join the two rows or name the other part.",
            )
        taken.append(row)
    return tuple(taken)


def _row(heading: list[str], cells: list[str], path: str, line: int) -> Wired:
    if len(cells) != len(COLUMNS):
        raise SheetError(
            path,
            line=line,
            found=f"{len(cells)} cells",
            expected="4: " + ",".join(COLUMNS),
            do="Fill or remove cells in this row; part the inputs by spaces.",
        )
    row = dict(zip(heading, cells, strict=True))

    def bad(name: str, expected: str, do: str) -> SheetError:
        column = heading.index(name) + 1
        return SheetError(path, line=line, column=column, found=f"{row[name]!r} as {name}", expected=expected, do=do)

    for name in ("part", "output"):
        if not row[name]:
            raise bad(name, f"the name of the {'part' if name == 'part' else 'net'}", "Fill this cell.")
    inputs = tuple(row["inputs"].split())
    if not inputs:
        raise bad("inputs", "one net name or more, parted by spaces", "Fill this cell or take the row out.")
    if len(set(inputs)) != len(inputs):
        raise bad("inputs", "each net once", "Take the repeated name out.")
    kind = row["kind"].lower()
    for known in KINDS:
        if kind == known:
            return Wired(row["part"], known, row["output"], inputs)
    raise bad("kind", f"{', '.join(KINDS[:-1])} or {KINDS[-1]}", "Write one of these.")

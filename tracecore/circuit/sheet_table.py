"""Rows of a CSV sheet with a heading line, as any spreadsheet writes it; a bad cell is told with its place."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path

from tracecore.csv_cells import unguarded
from tracecore.errors import SheetError


@dataclass(frozen=True, slots=True)
class SheetForm:
    """What a kind of sheet looks like. ``kind`` names it ("a pin list"), ``sample`` is a row such as to add."""

    kind: str
    columns: tuple[str, ...]
    required: tuple[str, ...]
    sample: str


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One row: its cells by column, stripped, those of absent columns empty."""

    path: str
    line: int
    cells: dict[str, str]
    heading: tuple[str, ...]

    def bad(self, name: str, expected: str, do: str = "Correct this cell.") -> SheetError:
        """The error for one cell."""
        column = self.heading.index(name) + 1 if name in self.heading else None
        found = f"{self.cells[name]!r} as {name}"
        return SheetError(self.path, line=self.line, column=column, found=found, expected=expected, do=do)


@dataclass(frozen=True, slots=True)
class SheetTable:
    """All rows; ``decimal_comma`` where the cells are not parted by commas, so that one may stand in a number."""

    rows: tuple[SheetRow, ...]
    decimal_comma: bool


def sheet_text(path: str | Path, form: SheetForm) -> str:
    """The text of a file. Raises SheetError where it cannot be read or is no UTF-8."""
    try:
        return Path(path).read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise SheetError(
            path,
            found=f"no readable file ({error.strerror})",
            expected=f"{form.kind} (CSV)",
            do="Check the name.",
        ) from error
    except UnicodeDecodeError as error:
        raise SheetError(
            path,
            found="bytes that are not UTF-8 text",
            expected=f"{form.kind} (CSV)",
            do="Save the list as CSV in UTF-8 from the spreadsheet.",
        ) from error


def sheet_table(text: str, path: str, form: SheetForm) -> SheetTable:
    """Takes the text of a sheet; columns may stand in any order, further ones are refused by name.

    Raises SheetError with line and column where the heading or a row does not fit, or no row stands there.
    """
    delimiter = max(",;\t", key=text.split("\n", 1)[0].count)
    rows = csv.reader(io.StringIO(text), delimiter=delimiter)
    try:
        heading = tuple(cell.strip().lower() for cell in next(rows, []))
        _check_heading(heading, path, form)
        taken = tuple(
            _row(cells, heading, path, rows.line_num, form) for cells in rows if any(cell.strip() for cell in cells)
        )
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
            path, found="no rows under the heading", expected="a row or more", do=f"Add a row such as {form.sample}."
        )
    return SheetTable(taken, delimiter != ",")


def _check_heading(heading: tuple[str, ...], path: str, form: SheetForm) -> None:
    for column, name in enumerate(heading, start=1):
        if name not in form.columns or heading.index(name) != column - 1:
            raise SheetError(
                path,
                line=1,
                column=column,
                found=f"heading {name!r}",
                expected="each of these at most once: " + ",".join(form.columns),
                do="Rename or remove this column.",
            )
    for name in form.required:
        if name not in heading:
            raise SheetError(
                path,
                line=1,
                found=f"no column {name!r}",
                expected="the columns " + ", ".join(form.required),
                do="Add it to the heading line.",
            )


def _row(cells: list[str], heading: tuple[str, ...], path: str, line: int, form: SheetForm) -> SheetRow:
    if len(cells) != len(heading):
        raise SheetError(
            path,
            line=line,
            found=f"{len(cells)} cells",
            expected=f"{len(heading)} as in the heading",
            do="Fill or remove cells in this row.",
        )
    values = dict.fromkeys(form.columns, "") | dict(
        zip(heading, (unguarded(cell.strip()) for cell in cells), strict=True)
    )
    return SheetRow(path, line, values, heading)

"""Rows of logic cells read one line after the other, slowly and plainly, to check the fast reading against."""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass
from fractions import Fraction

_TIME = re.compile(r"([+-]?)([0-9]+)(?:\.([0-9]*))?(?:[eE]([+-]?[0-9]{1,3}))?")


@dataclass(frozen=True)
class SlowRows:
    """``bad_line`` counts from 1 and is None where all fits; ``entries`` are (row or time in ps, level) a channel."""

    bad_line: int | None
    entries: tuple[tuple[tuple[int, int], ...], ...] = ()
    count: int = 0
    cut: bool = False


def slow_rows(data: bytes, columns: int, timed: bool, unit: int, first_line: int) -> SlowRows:
    """``first_line`` is the line of the first row; ``unit`` the power of ten of the time's unit in ps."""
    lines = data.decode("latin-1").split("\n")
    open_end = _without_hollow(lines)
    entries: list[list[tuple[int, int]]] = [[] for _ in range(columns)]
    ending: bool | None = None
    now, count = None, 0
    for number, line in enumerate(lines[first_line - 1 :], start=first_line):
        last = open_end and number == len(lines)
        if not timed and re.fullmatch(r"[A-Z]{2}[A-Z0-9_ -]*", line.strip(' \t\r",')):
            continue
        ends_so = line.endswith("\r")
        if last and ends_so and ending is False and line.count('"') % 2 == 0:
            return SlowRows(number)  # a stray end of another kind is damage, and hides whether letters are missing
        if last and count and _is_front_part(line, columns, timed, entries):
            return SlowRows(None, tuple(map(tuple, entries)), count, True)
        if not last:
            ending = ends_so if ending is None else ending
            if ends_so != ending:
                return SlowRows(number)
        row = _row(line.removesuffix("\r"), columns, timed, unit)
        if row is None or (timed and now is not None and row[0] < now):
            return SlowRows(number)
        now = row[0]
        for channel, level in enumerate(row[1]):
            if not entries[channel] or entries[channel][-1][1] != level:
                entries[channel].append((now if timed else count, level))
        count += 1
    return SlowRows(None, tuple(map(tuple, entries)), count)


def _without_hollow(lines: list[str]) -> bool:
    """Takes lines off the end that are blank or, with a line end, hold delimiters alone; has the last one no end?"""
    open_end = lines[-1].strip() != ""
    while lines and not lines[-1].strip(None if open_end else ' \t\r,"') and lines[-1].count('"') % 2 == 0:
        lines.pop()
    return open_end


def _row(line: str, columns: int, timed: bool, unit: int) -> tuple[int, list[int]] | None:
    if line.count('"') % 2:
        return None
    cells = line.split(",")
    if len(cells) == columns + timed + 1 and not cells[-1].strip(' \t"'):
        cells.pop()
    if not line.strip() or len(cells) != columns + timed:
        return None
    time = 0
    if timed:
        taken = _time(cells.pop(0), unit)
        if taken is None:
            return None
        time = taken
    levels = [_level(cell, timed) for cell in cells]
    return None if None in levels else (time, [level for level in levels if level is not None])


def _level(cell: str, timed: bool) -> int | None:
    text = cell.strip(' \t"')
    if text in ("0", "1"):
        return int(text)
    return 2 if timed and text in ("", "x", "X", "z", "Z") else None


def _time(cell: str, unit: int) -> int | None:
    match = _TIME.fullmatch(cell.strip(' \t"'))
    if match is None:
        return None
    sign, whole, part, exponent = match.groups()
    size = Fraction(int(whole + (part or ""))) * Fraction(10) ** (unit - len(part or "") + int(exponent or 0))
    if size >= 10**18:
        return None
    rounded = int(size + Fraction(1, 2))
    return -rounded if sign == "-" else rounded


def _is_front_part(line: str, columns: int, timed: bool, entries: list[list[tuple[int, int]]]) -> bool:
    """Would a longer line have fitted? An empty last cell counts as cut where the level was known before."""
    cells = line.removesuffix("\r").split(",")
    if line.count('"') % 2:
        return True
    if len(cells) > columns + timed:
        return False
    known = entries[-1][-1][1] < 2
    if len(cells) == columns + timed and (cells[-1].strip() or not known):
        return False
    if timed:
        first = cells.pop(0)
        if cells and _time_shape(first) is None:
            return False
        if not cells:
            return re.fullmatch(r'[ \t]*"?[+-]?([0-9]+(\.[0-9]*)?([eE][+-]?[0-9]{0,3})?)?"?[ \t]*', first) is not None
    return all(_level(cell, timed) is not None for cell in cells[:-1]) and (
        _level(cells[-1], True) is not None or cells[-1].strip() == '"'
    )


def _time_shape(cell: str) -> re.Match[str] | None:
    return _TIME.fullmatch(cell.strip(' \t"'))


_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?")


@dataclass(frozen=True)
class SlowTable:
    """``rows`` are the cells that count, as text, a row of the file each; ``bad_line`` is None where all fit."""

    bad_line: int | None
    rows: tuple[tuple[str, ...], ...] = ()


def slow_table(data: bytes, kinds: str, first_line: int, prefix: str = "", bits: int = 0) -> SlowTable:
    """Rows of cells: a letter of ``kinds`` is ``t`` for a time, ``l`` for logic, ``x`` for logic or unknown, ``v`` for
    volts, ``h`` for a word in hex of ``bits`` behind ``prefix``, ``-`` for any text.

    A last row without a line end counts where no letter of it can be missing. Rows may be closed by a delimiter.
    """
    lines = data.decode("latin-1").split("\n")
    open_end = _without_hollow(lines)
    rows = []
    for number, line in enumerate(lines[first_line - 1 :], start=first_line):
        if not rows and not line.strip():
            continue  # a blank line between heading and rows hides none
        cells = [cell.strip().strip('"').strip() for cell in line.split(",")]
        fits = _fits(cells, kinds, prefix, bits) and line.count('"') % 2 == 0
        if open_end and number == len(lines) and (not fits or not _closed(cells, kinds, rows)):
            # damage and a cut cannot be told apart here
            return SlowTable(None if fits or len(cells) <= len(kinds.rstrip("-")) else number, tuple(rows))
        if not line.strip() or not fits:
            return SlowTable(number, tuple(rows))
        rows.append(tuple(cells[i] for i, kind in enumerate(kinds) if kind != "-"))
    return SlowTable(None, tuple(rows))


def _fits(cells: list[str], kinds: str, prefix: str, bits: int) -> bool:
    if len(cells) < len(kinds.rstrip("-")) or any(cells[len(kinds) :]):
        return False
    for cell, kind in zip(cells, kinds, strict=False):
        if kind in "tv" and (not _NUMBER.fullmatch(cell) or abs(float(cell)) == float("inf")):
            return False
        if kind in "du" and slow_time(cell, kind) is None:
            return False
        if kind == "i" and (not _NUMBER.fullmatch(cell) or not float(cell).is_integer()):
            return False
        if kind == "w" and cell.lower() not in ("h", "l", "x", "z", "", "0", "1"):
            return False
        if kind in "lx" and cell not in (("0", "1") if kind == "l" else ("0", "1", "", *"xXzZ")):
            return False
        if kind == "h" and (slow_word(cell, prefix, bits) is None or (cell == "" and kinds[0] != "t")):
            return False
    return True


def slow_time(cell: str, kind: str) -> Fraction | None:
    """Picoseconds of a date ("d") or of a number with its unit ("u"); None where it is none."""
    if kind == "u":
        match = re.fullmatch(r"([+-]?[0-9]+(?:\.[0-9]*)?(?:[eE][+-]?[0-9]{1,2})?)\s*(s|ms|us|ns|ps)", cell)
        return None if match is None else Fraction(match[1]) * 1000 ** ["ps", "ns", "us", "ms", "s"].index(match[2])
    match = re.fullmatch(
        r"([0-9-]{10})[Tt ]([0-9:]{8})(?:\.([0-9]{1,12}))?\s*([Zz]|[+-][0-9]{2}(?::?[0-9]{2})?)?", cell
    )
    if match is None:
        return None
    try:
        day, clock = datetime.date.fromisoformat(match[1]), datetime.time.fromisoformat(match[2].replace(":60", ":59"))
    except ValueError:
        return None
    seconds = day.toordinal() * 86_400 + clock.hour * 3600 + clock.minute * 60 + int(match[2][6:])
    zone = (match[4] or "z").lower()
    if zone != "z":
        hours, minutes = int(zone[1:3]), int(zone[3:].strip(":") or 0)
        seconds -= int(f"{zone[0]}1") * (hours * 3600 + minutes * 60)
    return seconds * 10**12 + Fraction(int((match[3] or "0").ljust(12, "0")))


def slow_word(cell: str, prefix: str, bits: int) -> str | None:
    """64 letters 0, 1 and x of a word in hex, None where it is none; ``bits`` is 0 where any width will do."""
    if cell in ("", *"xXzZ"):
        return "x" * 64
    if not cell.startswith(prefix) or (not prefix and len(cell) > 2 and cell[:2] in ("0x", "0X")):
        return None
    digits = cell[len(prefix) :]
    if not digits or len(digits) > 16 or not set(digits) <= set("0123456789abcdefABCDEFxXzZ"):
        return None
    text = "".join("xxxx" if digit in "xXzZ" else format(int(digit, 16), "04b") for digit in digits)
    leads = text[0] == "x"
    if bits and ("1" in text[: max(0, len(text) - bits)] or (leads and 4 * (len(digits) - 1) >= bits)):
        return None
    return text.rjust(64, "x" if leads else "0")


def _closed(cells: list[str], kinds: str, rows: list[tuple[str, ...]]) -> bool:
    needed = kinds.rstrip("-")
    if len(cells) > len(needed):
        return True
    if needed[-1] == "h":
        return {len(row[-1]) for row in rows} <= {len(cells[-1])}
    # an empty last cell is whole where nothing was known before either
    return needed[-1] in "lxw" and (cells[-1] != "" or (bool(rows) and rows[-1][-1] not in tuple("01HLhl")))

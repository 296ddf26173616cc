"""Words of a bus in a cell (hex, octal, binary): how they are known, and how they come apart into bits."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from tracecore.readers.refusals import BadRow, shown

BASES = {"binary": 2, "octal": 8, "hex": 16}
BASE_WORDS = {base: word for word, base in BASES.items()}
DIGIT_BITS = {2: 1, 8: 3, 16: 4}
MOST_BITS = 64
_PREFIX = re.compile(r"(?:(\d{0,2})'([hHoObB])|0([xXoO])|(0[bB]|b)(?=[01xXzZ]+$))(?=[0-9A-Fa-fxXzZ]+$)")
_LETTER_BASE = {"h": 16, "x": 16, "o": 8, "b": 2}
_WORD = re.compile(r"(?:\d{0,2}'[hHoObB]|0[xXoObB]|b)?[0-9A-Fa-fxXzZ]+")
_BITS = frozenset("01xXzZ")
_RANGE = re.compile(r"(.*?)\s*\[\s*(\d{1,3})\s*:\s*(\d{1,3})\s*\]\s*(.*)")
_VOLTS = re.compile(r"(?:.*[\[(]\s*)?[mukµμ]?V(?:olts?)?\s*[\])]?", re.IGNORECASE)
_SAID = re.compile(r"(.*?)\s*[\[(]?\b(hex|hexadecimal|oct|octal|bin|binary)\b[\])]?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class WordColumn:
    """A column of words. ``base`` is 2, 8 or 16, or None where it is not evident; ``first`` is a word as printed.

    ``prefix`` stands before every word. ``bits`` are the names' numbers, most significant first, where the heading or
    the prefix states them. ``sure`` says that no column of plain numbers looks like this.
    """

    name: str
    base: int | None
    prefix: str
    bits: tuple[int, ...]
    first: str
    sure: bool

    def bit_names(self, width: int) -> tuple[str, ...]:
        """Names of the bits, most significant first.

        >>> WordColumn("D", 16, "", (), "3", True).bit_names(2)
        ('D[1]', 'D[0]')
        """
        return tuple(f"{self.name}[{i}]" for i in self.bits or range(width - 1, -1, -1))


@dataclass(frozen=True, slots=True)
class Word:
    """Value, unknown bits, and digits of one cell; the bits above a leading X are unknown, too."""

    value: int
    unknown: int
    digits: int


def base_number(base: int | str | None) -> int | None:
    """2, 8 or 16 of such a number or of "binary", "octal", "hex". Raises ValueError."""
    if base is None:
        return None
    number = base if isinstance(base, int) else BASES.get(base)
    if number in DIGIT_BITS:
        return number
    raise ValueError(f"found {base!r} as base of words; expected hex, octal or binary")


def is_word(cell: str) -> bool:
    """Can this cell be a word in any base?"""
    return bool(_WORD.fullmatch(cell))


def says_volts(title: str) -> bool:
    """Does a heading, or a unit below it, say volts?

    >>> [says_volts(title) for title in ("CH1 (mV)", "Volt", "DRV")]
    [True, True, False]
    """
    return bool(_VOLTS.fullmatch(title))


def word_column(title: str, cells: list[str], base: int | None = None) -> WordColumn | None:
    """What a column is, of which ``cells`` are the first ones; None where they are no words.

    A column of single 0 and 1 is logic, unless its heading states more than one bit.

    >>> word_column("D[3:0]", ["3", "A"]).base
    16
    >>> word_column("D", ["10", "11"]).base is None
    True
    >>> word_column("D", ["0", "1"]) is None
    True
    """
    name, bits, said = _from_title(title)
    # each cell that differs is looked at once, of which logic has two
    fitting = {cell for cell in set(cells) if cell and _WORD.fullmatch(cell)}
    words = [cell for cell in cells if cell in fitting]
    wide = [cell for cell in words if cell not in _BITS]
    if 2 * len(words) <= len([c for c in cells if c]) or not words:
        return None
    if len(bits) < 2 and said is None and len(wide) < max(min(3, len(words) / 2), len(words) / 10):
        return None  # one or two wide cells are damage, which the reading of logic names
    prefix = _prefix(words)
    if prefix:
        match = _PREFIX.match(prefix + "0")
        assert match is not None
        letter = (match[2] or match[3] or match[4][-1]).lower()
        size = int(match[1] or 0)
        return WordColumn(name, _LETTER_BASE[letter], prefix, bits or tuple(range(size - 1, -1, -1)), words[0], True)
    bare = [cell for cell in wide or words if not cell.startswith(("0x", "0X", "0o", "0O")) and "'" not in cell]
    letters = sum(any(c in "abcdefABCDEF" for c in cell) for cell in bare)
    padded = len({len(cell) for cell in words}) == 1 and len(words[0]) > 1 and any(c[0] == "0" for c in words)
    # a lone letter among many words is damage; the base is evident where it stands in more of them
    evident = 16 if letters >= max(1 + (len(bare) > 5), len(bare) / 20) else None
    if (
        said is None
        and base is None
        and evident
        and all(re.fullmatch(r"\d+[eE]\d+", c) for c in bare if not c.isdigit())
    ):
        evident = None  # 1E3 is a number, too
    bitwise = all(set(cell) <= set("01xXzZ") for cell in words)
    sure = bool(bits) or said is not None or evident is not None or padded or bitwise
    first = (wide or words)[0]
    return WordColumn(name, base or said or evident, "", bits, first, sure)


def _prefix(words: list[str]) -> str:
    """The prefix that most words share."""
    found = [match[0] for word in words if (match := _PREFIX.match(word))]
    if not found:
        return ""
    common = max(set(found), key=found.count)
    return common if 2 * found.count(common) > len(words) else ""


def _from_title(title: str) -> tuple[str, tuple[int, ...], int | None]:
    """Name, numbers of the bits and base that a heading states.

    >>> _from_title("DATA[3:1] (hex)")
    ('DATA', (3, 2, 1), 16)
    """
    base = None
    if (match := _SAID.fullmatch(title)) and match[1]:
        title = match[1]
        base = {"h": 16, "o": 8, "b": 2}[match[2][0].lower()]
    if match := _RANGE.fullmatch(title):
        high, low = int(match[2]), int(match[3])
        step = -1 if high >= low else 1
        return (match[1] or title), tuple(range(high, low + step, step)), base
    return title, (), base


def expected_word(column: WordColumn) -> str:
    """What a cell must be, in words."""
    size = f" of {len(column.bits)} bits" if column.bits else ""
    behind = f" behind {column.prefix!r}" if column.prefix else ""
    return f"a word in {BASE_WORDS[column.base or 16]}{size}{behind}"


def split_word(cell: bytes, column: WordColumn, number: int, empty_allowed: bool = True) -> Word:
    """One cell taken apart, slowly and plainly. Raises BadRow, which names cell ``number`` (from 1).

    >>> split_word(b"1X", WordColumn("D", 16, "", (), "", True), 1)
    Word(value=16, unknown=15, digits=2)
    """
    text = cell.strip(b' \t"').decode("latin-1")
    bad = BadRow(f"{shown(cell)} in a cell", expected_word(column), number)
    if text in ("x", "X", "z", "Z") or (not text and empty_allowed):
        return Word(0, (1 << MOST_BITS) - 1, 0)
    base = column.base or 16
    each, width = DIGIT_BITS[base], len(column.bits) or MOST_BITS
    if column.prefix:
        if not text.startswith(column.prefix):
            raise bad
        text = text[len(column.prefix) :]
    elif base != 2 and text[1:2] in ("x", "X") and text[0] == "0" and len(text) > 2:
        raise bad  # a prefix, or an unknown digit: nobody can tell
    if not text or len(text) * each > MOST_BITS + each - 1:
        raise bad
    value = unknown = 0
    for letter in text:
        value, unknown = value << each, unknown << each
        if letter in "xXzZ":
            unknown |= (1 << each) - 1
            continue
        digit = "0123456789abcdef".find(letter.lower())
        if not 0 <= digit < base:
            raise bad
        value |= digit
    leads = text[0] in "xXzZ"
    if value >> width or (leads and (len(text) - 1) * each >= width):
        raise bad
    if leads:
        unknown |= -1 << (len(text) * each)
    return Word(value, unknown & ((1 << MOST_BITS) - 1), len(text))


def word_width(column: WordColumn, digits: int, seen: int) -> int:
    """Bits of the widest word of ``digits`` digits; ``seen`` is the union of all values.

    All digits count whole, but for the first one in octal: 177777 is how 16 bits are printed.

    >>> word_width(WordColumn("D", 8, "", (), "", True), 6, 0o177777)
    16
    """
    if column.bits:
        return len(column.bits)
    each = DIGIT_BITS[column.base or 16]
    if column.base != 8 or digits < 2:
        return max(1, min(MOST_BITS, digits * each))
    return min(MOST_BITS, (digits - 1) * each + max(1, (seen >> ((digits - 1) * each)).bit_length()))


def with_base(column: WordColumn, base: int | None) -> WordColumn:
    """The column in the base that a person said; a prefix says it better, but for a b, which is a hex digit too."""
    if base == 16 and column.prefix.lower() in ("b", "0b"):
        return replace(column, base=16, prefix="")
    return column if base is None or column.prefix else replace(column, base=base)

"""The plan by which the rows of a file are read: where they begin, what each column is, where their times come from.

    Time (us),A (V),EN        time in us, cell 0
    0.00,0.25,1               volts A, cell 1, scale 1
    0.01,3.50,1               logic EN, cell 2; data_line 1, width 3

A recogniser makes it from the first lines of a file; a person's choices are edits of it; rows are decoded by it; the
traces are built by it.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from tracecore.errors import MalformedCapture
from tracecore.quantities import PS_PER_S
from tracecore.readers.headings.facts import StatedRate
from tracecore.readers.headings.own_comment import NOTHING_CARRIED, Carried
from tracecore.readers.headings.titles import plain_name
from tracecore.readers.plan.column_choice import Kind
from tracecore.readers.plan.words import WordColumn
from tracecore.readers.recognise.cells import LOGIC_CELLS, TimeForm

SAMPLED = "sampled rows"
CHANGES = "change rows"
SCOPE = "scope columns"
CELLS = "columns by their cells"


@dataclass(frozen=True, slots=True)
class Column:
    """Cell ``cell``, from 0, of every row, and what it is taken for.

    ``name`` is how a person names it, ``title`` what stands above it with the unit below, ``cells`` are its first ones.
    Volts are a number times ``scale`` plus ``offset``, ``counted`` where those are the worth of a count of a converter.
    ``unit_ps`` is that of a time in plain numbers, None where none stands there; ``form`` says how other times are
    written. ``word`` says how words come apart, ``levels`` which texts stand for 0 and 1 beside 0 and 1 themselves.
    """

    cell: int
    name: str
    kind: Kind
    title: str = ""
    cells: tuple[str, ...] = ()
    scale: float = 1.0
    offset: float = 0.0
    counted: bool = False
    unit_ps: Fraction | None = None
    form: TimeForm = ""
    word: WordColumn | None = None
    levels: tuple[tuple[str, int], ...] = ()
    second_guess: Kind = "volts"
    """What a column guessed to be the time is where another one is said to be."""

    @property
    def of_letters(self) -> bool:
        """Is it logic of single letters, whether or not it is left out?"""
        plain = self.kind == "leave out" and all(cell in LOGIC_CELLS for cell in self.cells)
        return not self.levels and (self.kind == "logic" or plain)

    @property
    def has_decimals(self) -> bool:
        """Do its first numbers have decimals, as seconds have?"""
        return any("." in cell or "e" in cell.lower() for cell in self.cells)


@dataclass(frozen=True, slots=True)
class Plan:
    """``layout`` is one of the names above. ``data_line`` counts from 0; most rows have ``width`` cells, those of an
    open end included.

    ``rates`` are what the heading states, ``start_ps`` the time of the first row where no column says it, ``index``
    start and increment in seconds where they stand above a column of numbers of samples. ``unknown_unit`` is what
    stands above the times where that names no unit that is known, ``time_heading`` the words that name one.
    ``by_cells`` says that no fast reading of rows knows the cells, ``special`` that no recogniser of layouts does, and
    that they are surely a capture; ``named`` how many names stand above volts without an index. ``wrong`` is the error
    to raise unless a person says what the columns are.
    """

    layout: str
    data_line: int
    width: int
    columns: tuple[Column, ...]
    delimiter: str
    decimal: str = "."
    coding: str = "utf-8"
    rates: tuple[StatedRate, ...] = ()
    start_ps: Fraction = Fraction(0)
    index: tuple[Fraction, Fraction] | None = None
    unknown_unit: str = ""
    time_heading: str = ""
    by_cells: bool = False
    special: bool = False
    named: int = 0
    wrong: MalformedCapture | None = None
    facts: tuple[tuple[str, str], ...] = ()
    carried: Carried = NOTHING_CARRIED

    @property
    def rate_hz(self) -> Fraction | None:
        """The rate that the heading states first."""
        return self.rates[0].rate_hz if self.rates else None

    @property
    def interval_ps(self) -> Fraction | None:
        """The sample interval that the heading states first."""
        return PS_PER_S / self.rates[0].rate_hz if self.rates else None

    @property
    def time(self) -> Column | None:
        """The column of times or numbers of samples."""
        return next((c for c in self.columns if c.kind == "time"), None)

    @property
    def volts(self) -> tuple[Column, ...]:
        """The columns of volts."""
        return tuple(c for c in self.columns if c.kind == "volts")

    @property
    def bits(self) -> tuple[Column, ...]:
        """The columns of logic and of words."""
        return tuple(c for c in self.columns if c.kind in ("logic", "word"))

    @property
    def used(self) -> tuple[Column, ...]:
        """The columns that are not left out."""
        return tuple(c for c in self.columns if c.kind != "leave out")

    @property
    def letters(self) -> bool:
        """Are all columns beside the time single letters 0 and 1?"""
        return all(c.of_letters for c in self.columns if c.kind != "time")

    @property
    def keeps_times(self) -> bool:
        """Are the times of all rows needed, and not of those alone where something changes?"""
        return self.time is not None and (bool(self.volts) or self.time.form == "index")

    def place(self, name: str) -> int | None:
        """The place, from 0, of the column of that name, or that title with or without its unit."""
        titles = [c.title for c in self.columns]
        for texts in ([c.name for c in self.columns], titles, [plain_name(t) for t in titles]):
            if name in texts:
                return texts.index(name)
        return None

"""A report as a value: sections of blocks, of words that know how they are to stand. Nothing here draws or writes."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from app.report.shapes import Shape

if TYPE_CHECKING:
    from app.report.figure import FigurePlan

Tone = Literal["plain", "muted", "suspect", "warning"]
Style = Literal["plain", "small", "lead", "muted", "warning", "boxed"]


@dataclass(frozen=True, slots=True)
class Run:
    """Words of one look. ``low`` draws an overbar, for a signal that is active low; ``link`` jumps to an anchor."""

    text: str
    bold: bool = False
    low: bool = False
    tone: Tone = "plain"
    link: str = ""


Words = tuple[Run, ...]


def words(*parts: str | Run | Words) -> Words:
    """Runs of plain text and of others, one after another; empty text falls out.

    >>> words("D03 ", Run("stuck low", tone="suspect"))[0].text
    'D03 '
    """
    runs: list[Run] = []
    for part in parts:
        found = (Run(part),) if isinstance(part, str) else (part,) if isinstance(part, Run) else part
        runs += [run for run in found if run.text]
    return tuple(runs)


def text_of(runs: Words) -> str:
    """The bare text."""
    return "".join(run.text for run in runs)


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Running words; ``anchor`` is what links jump to."""

    runs: Words
    style: Style = "plain"
    shape: Shape | None = None
    anchor: str = ""


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list of sentences; ``shape`` stands before each where a dot does not say enough."""

    items: tuple[Words, ...]
    style: Style = "plain"
    shape: Shape | None = None


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of a table."""

    runs: Words = ()
    shape: Shape | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under a head. ``numeric`` columns stand to the right and hold together; ``bold`` rows stand out.

    Without a head the first cell of each row is its heading.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    numeric: frozenset[int] = frozenset()
    bold: frozenset[int] = frozenset()
    whole: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, eq=False)
class FigureBlock:
    """A trace figure with what it shows."""

    plan: FigurePlan
    caption: str
    name: str


@dataclass(frozen=True, slots=True)
class PhotoBlock:
    """A photo as JPEG bytes, its size in pixels and what it shows."""

    data: bytes = field(repr=False)
    width: int
    height: int
    caption: Words
    anchor: str = ""


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading inside a section."""

    runs: Words


@dataclass(frozen=True, slots=True)
class Group:
    """Blocks under a rail in the margin: a likely cause (``strong`` for the best supported), or a line of the log,
    whose ``shape`` stands in the margin. ``anchor`` is what links jump to."""

    blocks: tuple[Block, ...]
    kind: Literal["cause", "entry"]
    shape: Shape | None = None
    strong: bool = False
    anchor: str = ""


Block = Paragraph | Bullets | Table | FigureBlock | PhotoBlock | Heading | Group


@dataclass(frozen=True, slots=True)
class Section:
    """``name`` is what it is chosen by."""

    name: str
    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """``running`` stands on each page beside the date; ``printed`` is that date, or empty. ``author`` is whoever
    opened the case, ``program`` what made it, with its version."""

    title: str
    subtitle: Words
    running: str
    printed: str
    sections: tuple[Section, ...]
    author: str = ""
    program: str = ""

    def section(self, name: str) -> Section:
        """The section of that name; KeyError where it is not in the report."""
        for section in self.sections:
            if section.name == name:
                return section
        raise KeyError(name)

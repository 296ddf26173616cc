"""What a file's first lines are taken for: asked once of each file, and shared by all that want to know."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass

from tracecore.errors import CaptureFileError
from tracecore.readers.headings.logic_heading import read_heading
from tracecore.readers.headings.row_heading import Heading
from tracecore.readers.headings.scope_shape import ScopeShape, read_shape
from tracecore.readers.plan.plan import CHANGES, SAMPLED, SCOPE
from tracecore.readers.source import Head


@dataclass(frozen=True, slots=True)
class Known:
    """What stands above rows of logic and above columns of volts, None where it is no such file; ``no_logic`` and
    ``no_volts`` are the error where a heading is, but is damaged."""

    heading: Heading | None
    shape: ScopeShape | None
    no_logic: CaptureFileError | None
    no_volts: CaptureFileError | None

    @property
    def surely_words(self) -> bool:
        """Words that no column of volts looks like, or whole numbers beside columns of logic."""
        words = self.heading.words if self.heading is not None else ()
        return any(words) and any(column is None or column.sure for column in words)

    @property
    def holds_words(self) -> bool:
        """Columns of words, which may look like plain numbers."""
        return self.heading is not None and any(self.heading.words)

    @property
    def logic(self) -> Heading | None:
        """The heading of rows of logic; None where words that may be plain numbers can be taken for volts. Raises the
        error of a damaged heading."""
        if self.no_logic is not None:
            raise self.no_logic
        if self.holds_words and not self.surely_words:
            if self.no_volts is not None:
                raise self.no_volts
            return None if self.shape is not None else self.heading
        return self.heading

    @property
    def volts(self) -> ScopeShape | None:
        """What stands above columns of volts. Raises the error of a damaged heading."""
        if self.no_volts is not None:
            raise self.no_volts
        return self.shape

    def taken(self, wanted: str | None) -> tuple[Heading | None, ScopeShape | None]:
        """What the file is taken for, of two that fit the ``wanted`` one; what is damaged is no matter here."""
        if wanted == SCOPE and self.shape is not None:
            return None, self.shape
        if wanted is not None and self.heading is not None:
            return self.heading, None
        with contextlib.suppress(CaptureFileError):
            if (heading := self.logic) is not None:
                return heading, None
        return None, self.shape

    def claims(self, layout: str) -> bool:
        """Can the file be taken for this layout? Raises the error of a damaged heading."""
        if layout == SCOPE:
            shape = self.volts
            if shape is not None and self.no_logic is not None:
                raise self.no_logic
            return shape is not None and not self.surely_words
        heading = self.logic
        return heading is not None and layout_of(heading) == layout


def layout_of(heading: Heading) -> str:
    """A row a sample: no time column, or one in even steps below a stated sample rate."""
    return SAMPLED if not heading.timed or (heading.rate_hz is not None and heading.even) else CHANGES


def known(head: Head) -> Known:
    """What the first lines are taken for."""
    if Known not in head.found:
        head.found[Known] = _look(head)
    found: Known = head.found[Known]
    return found


def _look(head: Head) -> Known:
    heading = shape = no_logic = no_volts = None
    try:
        heading = read_heading(head)
    except CaptureFileError as error:
        no_logic = error
    try:
        shape = read_shape(head)
    except CaptureFileError as error:
        no_volts = error
    return Known(heading, shape, no_logic, no_volts)

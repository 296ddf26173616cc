"""What a file's first lines are taken for: asked once of each file, and shared by all that want to know."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass

from tracecore.errors import CaptureFileError
from tracecore.readers.plan.plan import SCOPE, Plan
from tracecore.readers.recognise.logic import logic_plan
from tracecore.readers.recognise.volts import volts_plan
from tracecore.readers.source import Head


@dataclass(frozen=True, slots=True)
class Known:
    """The plan of rows of logic, and of columns of volts, None where it is no such file; ``no_logic`` and ``no_volts``
    are the error where a heading is, but is damaged."""

    heading: Plan | None
    shape: Plan | None
    no_logic: CaptureFileError | None
    no_volts: CaptureFileError | None

    @property
    def holds_words(self) -> bool:
        """Columns of words, which may look like plain numbers."""
        return self.heading is not None and any(c.word for c in self.heading.columns)

    @property
    def surely_words(self) -> bool:
        """Words that no column of volts looks like, or whole numbers beside columns of logic."""
        bits = self.heading.bits if self.heading is not None and self.holds_words else ()
        return any(c.word is None or c.word.sure for c in bits)

    @property
    def logic(self) -> Plan | None:
        """The plan of rows of logic; None where words that may be plain numbers can be taken for volts. Raises the
        error of a damaged heading."""
        if self.no_logic is not None:
            raise self.no_logic
        if self.holds_words and not self.surely_words:
            return None if self.volts is not None else self.heading
        return self.heading

    @property
    def volts(self) -> Plan | None:
        """The plan of columns of volts. Raises the error of a damaged heading."""
        if self.no_volts is not None:
            raise self.no_volts
        return self.shape

    def taken(self, wanted: str | None) -> Plan | None:
        """What the file is taken for, of two that fit the ``wanted`` one; what is damaged is no matter here."""
        if wanted is not None:
            return (self.shape if wanted == SCOPE else self.heading) or self.heading or self.shape
        with contextlib.suppress(CaptureFileError):
            if (plan := self.logic) is not None:
                return plan
        return self.shape

    def claims(self, layout: str) -> bool:
        """Can the file be taken for this layout? Raises the error of a damaged heading."""
        if layout == SCOPE:
            if self.volts is not None and self.no_logic is not None:
                raise self.no_logic
            return self.volts is not None and not self.surely_words
        plan = self.logic
        return plan is not None and plan.layout == layout


def known(head: Head) -> Known:
    """What the first lines are taken for."""
    if Known not in head.found:
        head.found[Known] = _look(head)
    found: Known = head.found[Known]
    return found


def _look(head: Head) -> Known:
    heading = shape = no_logic = no_volts = None
    try:
        heading = logic_plan(head)
    except CaptureFileError as error:
        no_logic = error
    try:
        shape = volts_plan(head)
    except CaptureFileError as error:
        no_volts = error
    return Known(heading, shape, no_logic, no_volts)

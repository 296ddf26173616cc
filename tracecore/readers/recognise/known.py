"""What a file's first lines are taken for: asked once of each file, and shared by all that want to know."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from tracecore.errors import CaptureFileError
from tracecore.readers.plan.plan import SCOPE, Plan
from tracecore.readers.recognise.logic import logic_plan
from tracecore.readers.recognise.volts import volts_plan
from tracecore.readers.source import Head


@dataclass(frozen=True, slots=True)
class Known:
    """``logic`` is the plan of rows of logic, ``volts`` that of columns of volts: None where it is no such file, the
    error where a heading is, but is damaged."""

    logic: Plan | CaptureFileError | None
    volts: Plan | CaptureFileError | None

    @property
    def words(self) -> Plan | None:
        """The plan of rows of logic where it has columns of words, which may look like plain numbers."""
        plan = _plan(self.logic)
        return plan if plan is not None and any(c.word for c in plan.columns) else None

    @property
    def surely_words(self) -> bool:
        """Words that no column of volts looks like, or whole numbers beside columns of logic."""
        return self.words is not None and any(c.word is None or c.word.sure for c in self.words.bits)

    def taken(self, wanted: str | None = None) -> Plan | None:
        """What the file is taken for, of two that fit the ``wanted`` layout; what is damaged is no matter here."""
        logic, volts = _plan(self.logic), _plan(self.volts)
        unsure = self.words is not None and not self.surely_words and self.volts is not None
        return (volts or logic) if wanted == SCOPE or (wanted is None and unsure) else (logic or volts)

    def claims(self, layout: str) -> bool:
        """Can the file be taken for this layout? Raises the error of a damaged heading."""
        asked = [self.logic]
        if layout == SCOPE:
            asked = [self.volts, *asked] if self.volts is not None else []
        elif self.words is not None and not self.surely_words:
            asked.append(self.volts)
        for found in asked:
            if isinstance(found, CaptureFileError):
                raise found
        if layout == SCOPE:
            return self.volts is not None and not self.surely_words
        plan = _plan(self.logic)
        return plan is not None and plan.layout == layout and (len(asked) < 2 or self.volts is None)


def _plan(found: Plan | CaptureFileError | None) -> Plan | None:
    return found if isinstance(found, Plan) else None


def known(head: Head) -> Known:
    """What the first lines are taken for."""
    if Known not in head.found:
        head.found[Known] = Known(_tried(logic_plan, head), _tried(volts_plan, head))
    found: Known = head.found[Known]
    return found


def _tried(recogniser: Callable[[Head], Plan | None], head: Head) -> Plan | CaptureFileError | None:
    try:
        return recogniser(head)
    except CaptureFileError as error:
        return error

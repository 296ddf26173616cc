"""What a page tells of itself before it is made: its name, title and place, its actions, its stamp, and its factory."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from pkgutil import iter_modules
from typing import TYPE_CHECKING

import app.steps
from app.model.actions import ActionRow
from app.model.step_state import StepState

if TYPE_CHECKING:
    from app.case.record import Side
    from app.model.jobs import Jobs
    from app.model.session import Session
    from app.model.settings import Settings
    from app.pages.page import Page, PageContext


@dataclass(frozen=True, slots=True)
class PageNeeds:
    """What the frame gives a page: the context, and what a page may ask of the window."""

    context: PageContext
    jobs: Jobs
    settings: Settings
    open_case: Callable[[str], None]
    fill_card: Callable[[str], None]
    sign: Callable[[str], None]
    trouble: Callable[[str], None]
    add_captures: Callable[[Side], None]
    open_demo: Callable[[str], None]


def _nothing(_session: Session, _action: str) -> str:
    return ""


@dataclass(frozen=True, slots=True)
class Step:
    """One step. ``place`` orders the steps, from 1; ``make`` builds the page when it is first wanted.

    ``actions`` are done by this page, which is opened for them from elsewhere; ``only_open`` act only while it is
    open, since a table or a field of another page uses their keys. ``asks_comparison``: opening the page makes the
    comparison, where it was not made yet. ``hinders`` tells why an action of this page cannot be done now, empty
    where it can: the page is not opened for it then.
    """

    name: str
    title: str
    place: int
    make: Callable[[PageNeeds], Page]
    stamp: Callable[[Session], StepState]
    actions: tuple[str, ...] = ()
    only_open: tuple[str, ...] = ()
    asks_comparison: bool = True
    hinders: Callable[[Session, str], str] = _nothing

    @property
    def row(self) -> ActionRow:
        """The action that opens the page."""
        words = f"{self.place} {self.title}"
        return ActionRow(f"page_{self.name}", "Steps", words, (f"Ctrl+{self.place}",), self.tip)

    @property
    def tip(self) -> str:
        """What opening it does."""
        return f"Go to step {self.place}, {self.title}"


@cache
def all_steps() -> tuple[Step, ...]:
    """Every registered step, by its place."""
    modules = (import_module(f"{app.steps.__name__}.{found.name}") for found in iter_modules(app.steps.__path__))
    return tuple(sorted((m.STEP for m in modules if hasattr(m, "STEP")), key=lambda step: step.place))

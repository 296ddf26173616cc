"""A line of the log that is begun and not added outlives its window, and waits in its own case."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, get_args

from app.model.line_draft import read_draft

if TYPE_CHECKING:
    from app.model.session import Session
    from app.model.settings import Settings
    from app.widgets.log.log_line import LineStrip


Place = Literal["log", "any page"]
PLACES: tuple[Place, ...] = get_args(Place)


class LineDrafts:
    """Knows the strips in which lines are written, by their place, and the case that their words belong to."""

    def __init__(self, session: Session, settings: Settings) -> None:
        self._session, self._settings = session, settings
        self._strips: dict[Place, LineStrip] = {}
        self._case = self._open_case()

    def _open_case(self) -> str:
        path = self._session.store.path
        return "" if path is None else str(path)

    def attach(self, place: Place, strip: LineStrip) -> None:
        """A strip was made; what waits for it is put into it."""
        self._strips[place] = strip
        self._restore(place, strip)

    def keep(self) -> None:
        """Keeps what is written in every strip for the case that it was written in."""
        for place, strip in self._strips.items():
            draft = strip.draft()
            self._settings.set_line_draft(self._case, place, "" if draft is None else draft.as_text())

    def give_back(self) -> None:
        """Another case is open: every strip goes on with what waits there."""
        self._case = self._open_case()
        for place, strip in self._strips.items():
            strip.begin()
            self._restore(place, strip)

    def _restore(self, place: Place, strip: LineStrip) -> None:
        """Its own line, else one that was begun where no strip is yet: it is to be met where one writes first."""
        for other in (place, *(p for p in PLACES if p not in self._strips)):
            draft = read_draft(self._settings.line_draft(self._case, other))
            if draft is not None:
                strip.restore(draft, self._session.case.entries)
                if other != place:
                    self._settings.set_line_draft(self._case, other, "")
                    self._settings.set_line_draft(self._case, place, draft.as_text())
                return

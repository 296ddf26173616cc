"""Lines of the log and marks that are begun and not kept outlive their window, and wait in their own case."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, get_args

from app.model.line_draft import LineDraft, MarkDraft, read_draft

if TYPE_CHECKING:
    from app.model.session import Session
    from app.model.settings import Settings
    from app.pages.compare_marks import CompareMarks
    from app.widgets.log.log_line import LineStrip


Place = Literal["log", "any page"]
PLACES: tuple[Place, ...] = get_args(Place)
MARK = "mark"


class LineDrafts:
    """Knows the strips in which lines are written, by their place, the form of marks, and the case that their words
    belong to."""

    def __init__(self, session: Session, settings: Settings) -> None:
        self._session, self._settings = session, settings
        self._strips: dict[Place, LineStrip] = {}
        self._marks: CompareMarks | None = None
        self._case = self._open_case()

    def _open_case(self) -> str:
        path = self._session.store.path
        return "" if path is None else str(path)

    def attach(self, place: Place, strip: LineStrip) -> None:
        """A strip was made; what waits for it is put into it."""
        self._strips[place] = strip
        self._restore(place, strip)

    def attach_marks(self, marks: CompareMarks) -> None:
        """The marks' form was made; what waits for it opens it again once there is something to mark."""
        self._marks = marks
        self._restore_mark(marks)

    def keep(self) -> None:
        """Keeps what is written everywhere for the case that it was written in."""
        for place, strip in self._strips.items():
            self._put(place, strip.draft())
        if self._marks is not None:
            self._put(MARK, self._marks.draft())

    def _put(self, place: str, draft: LineDraft | MarkDraft | None) -> None:
        self._settings.set_line_draft(self._case, place, "" if draft is None else draft.as_text())

    def follow(self) -> None:
        """The case may go on in another file: what is half written goes with it."""
        self._case = self._open_case()

    def give_back(self) -> None:
        """Another case is open: every strip, and the form, goes on with what waits there."""
        self._case = self._open_case()
        for place, strip in self._strips.items():
            strip.begin()
            self._restore(place, strip)
        if self._marks is not None:
            self._restore_mark(self._marks)

    def _restore(self, place: Place, strip: LineStrip) -> None:
        """Its own line, else one that was begun where no strip is yet: it is to be met where one writes first."""
        for other in (place, *(p for p in PLACES if p not in self._strips)):
            draft = read_draft(LineDraft, self._settings.line_draft(self._case, other))
            if draft is not None:
                store = self._session.store
                there = tuple(picture for picture in draft.pictures if store.has_blob(picture.stored))
                strip.restore(draft, self._session.case.entries, there)
                if other != place:
                    self._settings.set_line_draft(self._case, other, "")
                    self._settings.set_line_draft(self._case, place, draft.as_text())
                return

    def _restore_mark(self, marks: CompareMarks) -> None:
        marks.restore(read_draft(MarkDraft, self._settings.line_draft(self._case, MARK)))

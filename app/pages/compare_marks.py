"""Marks on the Compare page: made, shown in three places, edited, removed, and gone through one by one."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from app.case.changes import Drop, Put
from app.case.values import Mark, now
from app.widgets.marks.mark_form import MarkForm
from app.widgets.marks.mark_list import MarkList
from app.widgets.traces.mark_spans import MarkSpan, mark_of_cursors, mark_of_cycle, nearby, place_words, reading_note

if TYPE_CHECKING:
    from app.model.line_draft import MarkDraft
    from app.model.session import Session
    from app.model.theme import Theme
    from app.widgets.traces.overview import Overview
    from app.widgets.traces.paired_traces import PairedTraces


class CompareMarks(QObject):
    """Keeps traces, overview and list in step with the marks of the case; ``said`` carries a line for the bottom."""

    said = Signal(str)

    def __init__(self, session: Session, traces: PairedTraces, overview: Overview, marks: MarkList) -> None:
        super().__init__(traces)
        self.session, self.traces, self.overview, self.list = session, traces, overview, marks
        self.form = MarkForm(traces)
        self.form.kept.connect(self._keep)
        self.form.left.connect(traces.setFocus)
        for source in (traces.markWanted, overview.markWanted, marks.wanted):
            source.connect(self.go)
        self._shown: int | None = None
        self._waiting: MarkDraft | None = None

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""
        self.form.set_theme(theme, scale)
        self.list.set_theme(theme, scale)

    # ---- what was typed and not kept

    def draft(self) -> MarkDraft | None:
        """What stands in the form and is not in the case, or still waits to be shown in it."""
        return self.form.draft() or self._waiting

    def restore(self, draft: MarkDraft | None) -> None:
        """Another case is open: the form closes, and opens again with ``draft`` once there is something to mark."""
        self.form.hide()
        self._waiting = draft
        self.go_on()

    def go_on(self) -> None:
        """Opens the form with what waits, where the traces are shown that it marks."""
        draft = self._waiting
        if draft is None or self.session.comparison is None or not self.traces.isVisible():
            return
        self._waiting = None
        if draft.mark.id and all(mark.id != draft.mark.id for mark in self.session.case.marks):
            # the mark was removed meanwhile: what was typed of it makes a new one
            draft = replace(draft, mark=replace(draft.mark, id=0))
        self._open(draft.mark, draft)

    # ---- showing

    def show(self) -> None:
        """Shows the marks of the case as they are now."""
        marks, chosen = self.session.case.marks, self.session.chosen.mark
        for place in (self.traces, self.overview, self.list):
            place.set_marks(marks, chosen)

    def follow(self) -> None:
        """Brings a mark into view that was chosen since the last time, wherever that was done."""
        chosen = self.session.chosen.mark
        span = self._span(chosen)
        if span is not None and chosen != self._shown:
            self.traces.show_span(span.start_ps, span.stop_ps)
        self._shown = chosen

    def _span(self, number: int | None) -> MarkSpan | None:
        return next((s for s in self.traces.spans if s.mark.id == number), None)

    def chosen(self) -> Mark | None:
        """The chosen mark, where it is still one of the case."""
        return next((m for m in self.session.case.marks if m.id == self.session.chosen.mark), None)

    def go(self, number: int) -> None:
        """Chooses a mark and shows all of it."""
        mark = next((m for m in self.session.case.marks if m.id == number), None)
        if mark is None:
            return
        self._shown = None
        signals = [s for s in mark.signals if s in self.traces.signals_shown()]
        self.session.choose(signal=signals[0] if signals else None, cycle=mark.first_cycle, mark=number)
        span = self._span(number)
        if span is not None:
            self.traces.show_span(span.start_ps, span.stop_ps)
            self.said.emit(f"Mark {number} · {mark.note}" if mark.note else f"Mark {number} · {place_words(mark)}")
        else:
            self.said.emit(f"Mark {number} lies at {place_words(mark)}, outside what is compared now")

    def step(self, forward: bool) -> None:
        """To the next mark by time, or to the one before."""
        start, stop = self.traces.view()
        chosen = self.session.chosen.mark if self._span(self.session.chosen.mark) is not None else None
        found = nearby(self.traces.spans, chosen, start + (stop - start) // 2, forward)
        if found is not None:
            self.go(found.mark.id)
        elif self.traces.spans:
            self.said.emit(f"No {'later' if forward else 'earlier'} mark")
        else:
            self.said.emit("No marks yet. M marks the chosen cycle")

    # ---- changing

    def make(self) -> None:
        """Opens the form on a new mark: between the cursors where both are placed, else on the chosen cycle."""
        if self.session.comparison is None:
            self.said.emit("Nothing is compared yet, so there is nothing to mark")
            return
        read, signal = self.traces.reading(), self.session.chosen.signal
        if read is not None:
            mark = mark_of_cursors(self.traces.pair, self.traces.axis, signal)
            if mark is None:
                self.said.emit("A cursor stands outside the cycles. Move it, or take both away (Esc) to mark a cycle")
                return
            self._open(replace(mark, note=reading_note(mark, read)))
            return
        cycle = self._cycle()
        if cycle is None:
            self.said.emit("No cycle is chosen. Go to one, or place both cursors, then mark it")
            return
        self._open(mark_of_cycle(cycle, signal))

    def _cycle(self) -> int | None:
        """The chosen cycle, else the one under a cursor, else the one in the middle."""
        if self.session.chosen.cycle is not None:
            return self.session.chosen.cycle
        start, stop = self.traces.view()
        placed = [t for t in self.traces.cursors() if t is not None]
        return self.traces.axis.cycle_at(placed[0] if placed else start + (stop - start) // 2)

    def _open(self, mark: Mark, draft: MarkDraft | None = None) -> None:
        if self.form.draft() is not None:
            self.said.emit("A mark is being written. Keep it (Enter), or leave it (Esc), then open another one")
            self.form.note.setFocus()
            return
        start_ps, stop_ps = self.traces.times_of(mark)
        first, last = self.traces.view()
        if stop_ps <= first or start_ps >= last:
            self.traces.show_span(start_ps, stop_ps)
        comparison = self.session.comparison
        known = [f.signal for f in comparison.signals] if comparison is not None else []
        beside = self.traces.area_of(start_ps, stop_ps, mark.signals)
        if draft is None:
            self.form.show_mark(mark, known, beside)
        else:
            self.form.restore(draft, known, beside)

    def _keep(self, mark: Mark) -> None:
        if not mark.id:
            mark = replace(mark, author=self.session.author, at=now())
        before = {m.id for m in self.session.case.marks}
        if not self.session.change(Put(mark)):
            return
        new = next((m.id for m in self.session.case.marks if m.id not in before), mark.id)
        # a new mark is the chosen one, but what is in view was just looked at and stays
        self._shown = new
        self.session.choose(mark=new)
        self.show()
        self.traces.setFocus()
        self.said.emit(f"Mark {new} is in the case")

    def edit(self) -> None:
        """Opens the form on the chosen mark."""
        mark = self.chosen()
        if mark is None:
            self.said.emit("No mark is chosen. Choose one in the list or on the traces")
        elif self.session.comparison is None:
            self.said.emit("Nothing is compared yet, so the mark cannot be shown")
        else:
            self._open(mark)

    def remove(self) -> None:
        """Takes the chosen mark out of the case; undo brings it back."""
        mark = self.chosen()
        if mark is None:
            self.said.emit("No mark is chosen. Choose one in the list or on the traces")
        elif self.session.change(Drop(mark)):
            self.said.emit(f"Mark {mark.id} is removed. Undo brings it back (Ctrl+Z)")

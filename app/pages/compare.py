"""Step 3: where the suspect departs from the known-good side, and what is likely to have caused it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QResizeEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from app.model.crate import no_pin_words, pin_of_signal
from app.model.row_order import all_rows, shown
from app.pages.compare_finder import CompareFinder
from app.pages.compare_marks import CompareMarks
from app.pages.compare_moves import ROW_MENU, CompareMoves
from app.pages.compare_steps import cycles_to_step
from app.pages.compare_words import cycle_words, status_line, title_line
from app.pages.page import Page, PageContext
from app.widgets.causes.cause_cards import LARGE, CauseCards
from app.widgets.causes.first_cause import FirstCause
from app.widgets.causes.seen_in import SeenIn
from app.widgets.controls.action_menu import open_menu
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.label import label
from app.widgets.controls.notice_line import NoticeLine
from app.widgets.controls.side_panel import SidePanel
from app.widgets.marks.mark_list import MarkList
from app.widgets.signals.all_signals import AllSignals
from app.widgets.traces.overview import Overview
from app.widgets.traces.paired_traces import PairedTraces

if TYPE_CHECKING:
    from app.widgets.traces.volt_plot import VoltPlot

ROOM_FOR_OVERVIEW, ROOM_FOR_TABLE, ROOM_FOR_TITLE, ROOM_FOR_WORDS = 500, 440, 330, 190
"""Pixels of the page's height at 100 % from which on the overview, the table of all signals, the title, and the lines
of cause and notices are there."""
MOST_ROUNDS = 4
"""A height that goes to and fro is left where it is."""
TABLE_SHARE = 0.24
"""Of the page's height, for the table of all signals where four rows take less."""
ROOM_FOR_TRACES = 640
"""Pixels at 100 % that the traces keep before the panel folds by itself."""
VOLTS_SHARE = 0.33
"""Of the page's height, for the volts at most: the chosen traces are looked at together with them."""
ROOM_FOR_BOTH = 640
"""Pixels at 100 % from which on causes and open marks stand in the panel together; in less, one or the other."""


class ComparePage(Page):
    """Overview and paired traces at the left, likely causes at the right."""

    def __init__(self, context: PageContext) -> None:
        super().__init__(context)
        self._sharing = False
        layout = QHBoxLayout(self)
        layout.setContentsMargins(18, 0, 0, 0)
        layout.setSpacing(14)
        layout.addWidget(self._left(), 1)
        self.panel = SidePanel("Likely causes", "Best supported first", context.theme, leaves=True)
        self.panel.folded.connect(self._on_panel)
        self.cards = CauseCards(context.theme, context.scale)
        self.cards.wanted.connect(lambda rank: context.session.choose(cause=rank))
        self.cards.asked.connect(context.act)
        self.panel.body.addWidget(self.cards, 1)
        self.mark_list = MarkList()
        self.mark_list.asked.connect(context.act)
        self.mark_list.opened.connect(lambda _open: self._share_panel())
        self.panel.body.addWidget(self.mark_list)
        layout.addWidget(self.panel)
        self.begun_marks = self.marks = CompareMarks(context.session, self.traces, self.overview, self.mark_list)
        self.marks.said.connect(self.said)
        self.moves = CompareMoves(self)
        self.finder = CompareFinder(context.session)
        self.finder.said.connect(self.said)
        self.retheme()
        self.refresh("comparison")

    def _left(self) -> QWidget:
        area = QWidget()
        left = QVBoxLayout(area)
        left.setContentsMargins(0, 8, 6, 6)
        left.setSpacing(6)
        self.first = FirstCause(self.context.theme, self.context.scale)
        self.first.asked.connect(self.context.act)
        self.first.all_wanted.connect(lambda: self.panel.fold(False, by_hand=True))
        left.addWidget(self.first)
        head = QHBoxLayout()
        self.title = ElidedLabel("", "muted")
        head.addWidget(self.title, 1)
        self._broken = False
        self.finders: list[QPushButton] = []
        self.finder_word = label("Divergence", "muted", wrap=False)
        head.addWidget(self.finder_word)
        for name, text in (("previous_divergence", "◂"), ("next_divergence", "▸"), ("fit", "Whole")):
            button = self.button(name, text)
            button.setProperty("small", True)
            head.addWidget(button)
            self.finders.append(button)
        self.limit_finders: list[QWidget] = [label("Limits", "muted", wrap=False)]
        head.insertWidget(1, self.limit_finders[0])
        for place, (name, text) in enumerate((("previous_limit", "◂"), ("next_limit", "▸")), start=2):
            button = self.button(name, text)
            button.setProperty("small", True)
            head.insertWidget(place, button)
            self.limit_finders.append(button)
        left.addLayout(head)
        self.seen_in = SeenIn(self.context.session, self.context.theme)
        self.seen_in.asked.connect(self.context.act)
        left.addWidget(self.seen_in)
        self.notices = NoticeLine()
        left.addWidget(self.notices)
        self.overview = Overview()
        self.overview.viewRequested.connect(self._go)
        left.addWidget(self.overview)
        self.traces = PairedTraces()
        self.traces.setAccessibleName("Paired traces")
        self.traces.viewChanged.connect(self._on_view)
        self.traces.chosenChanged.connect(lambda signal: self.context.session.choose(signal=signal))
        self.traces.cursorMoved.connect(lambda _at: self.said.emit(self.status()))
        self.traces.cursorsChanged.connect(lambda *_: self.said.emit(self.status()))
        self.traces.menuWanted.connect(lambda place, at: self.moves.open_menu(place, at))
        left.addWidget(self.traces, 1)
        self.volts_button = QPushButton()
        self.volts_button.setProperty("small", True)
        self.volts_button.setCheckable(True)
        self.volts_button.toggled.connect(lambda _on: self._fold_volts())
        self.volts: VoltPlot | None = None
        self.signals = AllSignals()
        self.signals.chosen.connect(lambda signal: self.context.session.choose(signal=signal))
        self.signals.jumped.connect(self._jump)
        self.signals.opened.connect(self._on_table)
        self.signals.left.connect(self._to_traces)
        self.signals.menu_wanted.connect(lambda _signal, at: open_menu(self, ROW_MENU, self.context.act, at))
        # below the traces, in the line of the table's head
        self.signals.head.addWidget(self.volts_button)
        left.addWidget(self.signals)
        self.left = left
        self.waiting = label("", "muted")
        self.waiting.setAlignment(Qt.AlignmentFlag.AlignTop)
        left.addWidget(self.waiting, 1)
        return area

    def _jump(self, signal: str, cycle: int | None) -> None:
        """Looks at a signal, and at a cycle where there is one."""
        self.context.session.choose(signal=signal, cycle=cycle)

    @property
    def _is_cramped(self) -> bool:
        """Is there no room for traces beside the open panel and above the open table?"""
        scale = self.context.scale
        narrow = self.width() - self.panel.open_width < ROOM_FOR_TRACES * scale
        return narrow and self.height() < ROOM_FOR_TABLE * scale

    def _on_table(self, is_open: bool) -> None:
        if is_open and hasattr(self, "panel") and self._is_cramped:
            self.panel.fold(True, by_hand=True)
        self._share_height()

    def _to_traces(self) -> None:
        """The table asked for them; where it stands in their place it folds."""
        if self.traces.isHidden():
            self.signals.set_open(False, by_hand=True)
            self.traces.setFocus()

    def _on_panel(self, is_folded: bool) -> None:
        if not is_folded and self._is_cramped:
            self.signals.set_open(False, by_hand=True)
        self._share_height()

    def _share_height(self) -> None:
        """What stands above and below the traces gives way where the page is low, the overview first.

        What goes or comes may change the page's height at once: it is shared again then, by the new one.
        """
        if not hasattr(self, "panel") or self._sharing:
            return
        self._sharing = True
        for _round in range(MOST_ROUNDS):
            height = self.height()
            self._share(height)
            if self.height() == height:
                break
        self._sharing = False

    def _share(self, height: int) -> None:
        there = self.context.session.comparison is not None and self.context.session.ready
        high = height / self.context.scale
        # a long line of the log is being written: what it is about is seen in the traces
        scant = high < ROOM_FOR_WORDS
        self.first.setVisible(there and self.panel.is_folded and not scant)
        self.notices.give_way(scant)
        for widget in (self.title, self.finder_word, *self.finders):
            widget.setVisible(high >= ROOM_FOR_TITLE and (there or widget is self.title))
        for widget in self.limit_finders:
            widget.setVisible(high >= ROOM_FOR_TITLE and self._broken)
        self.overview.setVisible(there and high >= ROOM_FOR_OVERVIEW)
        self.signals.setVisible(there and not scant)
        self.signals.set_open(high >= ROOM_FOR_TABLE)
        # where both have no room, an open table stands in the traces' place
        alone = self.signals.is_open and not scant and high < ROOM_FOR_TABLE
        self.traces.setVisible(there and not alone)
        table = self.signals.table
        least = self.signals.least_height
        table.setMinimumHeight(least if alone else self._table_height(least))
        table.setMaximumHeight(self.height() if alone else self._table_height(least))

    def _table_height(self, least: int) -> int:
        """Four rows; where the page is high it takes a share of it, and never what three traces need."""
        wanted = max(self.signals.table_height, round(self.height() * TABLE_SHARE))
        return min(wanted, max(least, self.height() - round(300 * self.context.scale)))

    def retheme(self) -> None:
        theme, scale = self.context.theme, self.context.scale
        self.first.set_theme(theme, scale)
        self.signals.set_scale(scale)
        self.seen_in.set_theme(theme)
        self.notices.set_theme(theme, scale)
        self.overview.set_theme(theme)
        self.traces.set_theme(theme, scale)
        if self.volts is not None:
            self.volts.set_theme(theme, scale)
        self.cards.set_theme(theme, scale)
        self.panel.set_scale(theme, scale)
        self.marks.set_theme(theme, scale)
        self._show_causes()
        self._fold_for_room()
        self._share_panel()
        self._share_height()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fold_for_room()
        self._share_panel()
        self._share_height()
        self._settle()

    def _settle(self) -> None:
        """The rows take their new places first; only then can the chosen one be scrolled into sight."""
        self._frame_volts()
        QTimer.singleShot(0, self, lambda: self.traces.set_chosen(self.context.session.chosen.signal))

    def _fold_volts(self) -> None:
        self._show_volts()
        self._settle()

    def _frame_volts(self) -> None:
        if self.volts is not None:
            self.volts.set_frame(round(self.height() * VOLTS_SHARE), *self.traces.beside_plot)

    def _fold_for_room(self) -> None:
        self.panel.fold(self.width() - self.panel.open_width < ROOM_FOR_TRACES * self.context.scale)
        # nothing compared has no causes
        if self.traces.isHidden() and self.signals.isHidden():
            self.panel.hide()

    def _share_panel(self) -> None:
        """Open marks share the panel with the causes, or take their place where it is short."""
        is_open = self.mark_list.is_open
        room = self.height() >= ROOM_FOR_BOTH * self.context.scale
        self.cards.setVisible(room or not is_open)
        self.panel.subtitle.setVisible(self.cards.isVisibleTo(self.panel) and self.context.scale < LARGE)
        self.panel.body.setStretchFactor(self.mark_list, 2 if is_open else 0)
        self.panel.body.setStretchFactor(self.cards, 3)

    def refresh(self, what: str) -> None:
        session = self.context.session
        if what == "comparison" or (what == "case" and not session.ready):
            self._show_comparison()
        elif what in ("case", "opened"):
            self.show_rows()
            self.marks.show()
            if self._no_pin() != self._told_no_pin:
                self._show_causes()
        elif what == "chosen":
            self._show_chosen()
            self.seen_in.refresh()
        elif what == "causes":
            self._show_causes()
        self.said.emit(self.status())

    def _show_comparison(self) -> None:
        session = self.context.session
        comparison = session.comparison if session.ready else None
        there = comparison is not None
        self.traces.setVisible(there)
        self.panel.setVisible(there and not self.panel.is_folded)
        self._broken = comparison is not None and len(cycles_to_step(comparison, None)) > 0
        self.waiting.setVisible(not there)
        self.title.setText(title_line(comparison) if comparison is not None else "Nothing compared yet")
        waiting = "Being compared…" if session.ready else "Add a known-good and a suspect capture in step 1 first."
        self.waiting.setText(session.trouble or waiting)
        self.seen_in.refresh()
        self.notices.set_notices(comparison.notices if comparison is not None else ())
        self.overview.set_comparison(comparison)
        self.traces.set_comparison(comparison)
        self.show_rows()
        self.signals.set_comparison(comparison)
        self._share_height()
        self.marks.show()
        self._show_causes()
        self._show_volts()
        if comparison is not None:
            self.traces.set_word_base(self.moves.words)
            chosen = session.chosen
            self.overview.set_chosen(chosen.signal)
            self.traces.set_chosen(chosen.signal)
            self.signals.set_chosen(chosen.signal)
            if chosen.cycle is not None:
                self.traces.show_cycle(chosen.cycle)
            else:
                self.traces.fit()
            self._go_on_soon()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._go_on_soon()

    def _go_on_soon(self) -> None:
        """A mark that was begun opens again, once the rows have their places."""
        QTimer.singleShot(0, self, self.marks.go_on)

    def _no_pin(self) -> str:
        """Why the chosen cause cannot be shown at its pin; empty where it can."""
        session = self.context.session
        cause = session.cause(session.chosen.cause)
        if cause is None or cause.chip is not None or pin_of_signal(session.case, cause.signal):
            return ""
        return no_pin_words(cause.signal)

    def _show_causes(self) -> None:
        self._told_no_pin = self._no_pin()
        self.cards.show_causes(self.context.session.comparison, self.context.session.chosen.cause, self._told_no_pin)
        self.first.show_cause(self.context.session.comparison)

    def _show_chosen(self) -> None:
        chosen = self.context.session.chosen
        self.show_rows()
        self.overview.set_chosen(chosen.signal)
        self.traces.set_chosen(chosen.signal)
        self.signals.set_chosen(chosen.signal)
        if chosen.cycle is not None:
            self.traces.show_cycle(chosen.cycle)
        self.marks.show()
        self.marks.follow()
        self._show_causes()
        self._show_volts()

    def _show_volts(self) -> None:
        session = self.context.session
        comparison, signal = session.comparison, session.chosen.signal
        finding = next((s for s in comparison.signals if s.signal == signal), None) if comparison else None
        has = finding is not None and (finding.good_volts is not None or finding.suspect_volts is not None)
        self.volts_button.setVisible(has)
        self.volts_button.setText(f"{'▾' if self.volts_button.isChecked() else '▸'} Volts of {signal}")
        shown = has and self.volts_button.isChecked()
        if shown and comparison is not None and signal is not None:
            self._volt_plot().set_finding(comparison, signal)
            self._volt_plot().set_view(*self.traces.view())
            self._frame_volts()
        if self.volts is not None:
            self.volts.setVisible(shown)

    def _volt_plot(self) -> VoltPlot:
        """The plot, made when it is first wanted: few captures have volts."""
        if self.volts is None:
            from app.widgets.traces.volt_plot import VoltPlot

            self.volts = VoltPlot()
            self.volts.set_theme(self.context.theme, self.context.scale)
            self.left.insertWidget(self.left.indexOf(self.signals), self.volts, 1)
        return self.volts

    def _go(self, start_ps: int, stop_ps: int) -> None:
        self.traces.set_view(start_ps, max(1, stop_ps - start_ps) / max(1, self.traces.plot_width))

    def _on_view(self, start_ps: int, stop_ps: int) -> None:
        self.overview.set_view_span(start_ps, stop_ps)
        if self.volts is not None and self.volts.isVisibleTo(self):
            self.volts.set_view(start_ps, stop_ps)

    def begins_at(self) -> QWidget | None:
        return self.traces

    def status(self) -> str:
        session = self.context.session
        if session.comparison is None:
            return session.trouble
        cycle = cycle_words(session.comparison, session.chosen.cycle)
        return status_line(cycle, self.traces.cursor_words(), self.traces.reading())

    def show_rows(self) -> None:
        """The rows of the traces as the case has them; the chosen signal's is never hidden."""
        session = self.context.session
        rows = all_rows(session.comparison)
        self.traces.set_order(shown(rows, session.case.rows, session.chosen.signal) if rows else None)

    def own_actions(self) -> dict[str, Callable[[], None]]:
        """Each action of the table that is done here."""
        return {
            **self.finder.actions(),
            "find_mark": self.do_find_mark,
            "find_signal": self.signals.begin_find,
            "mark": self.marks.make,
            "edit_mark": self.marks.edit,
            "remove_mark": self.marks.remove,
            "next_mark": lambda: self.marks.step(True),
            "previous_mark": lambda: self.marks.step(False),
            **self.moves.actions(),
        }

    def do_find_mark(self) -> None:
        """Opens the list of marks, ready to search."""
        self.panel.fold(False, by_hand=True)
        self.mark_list.open()

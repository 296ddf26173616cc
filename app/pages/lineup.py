"""Step 2: which cycle of the suspect is which cycle of the good one, how sure that is, and what moves it."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QCoreApplication, QEvent, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QScrollArea, QSizePolicy, QVBoxLayout, QWidget

from app.case.changes import SetClock, SetFamily, SetOffset, SetQualifier
from app.case.setting_changes import SetSameFile, SetSameStart, SetTolerance
from app.model.condition_effect import effect
from app.model.jobs import Jobs
from app.model.lineup_words import (
    book_words,
    course_words,
    drift_amount,
    drift_words,
    not_judging,
    reads_to_ps,
    signal_shares,
    verdict,
)
from app.pages.page import Page, PageContext
from app.widgets.controls.label import label
from app.widgets.controls.notice_line import NoticeLine
from app.widgets.controls.painting import painting
from app.widgets.controls.side_panel import SidePanel
from app.widgets.frame.step_list import draw_mark
from app.widgets.lineup.lineup_choices import LineupChoices
from app.widgets.lineup.lineup_drift import LineupDrift
from app.widgets.lineup.lineup_legend import LineupLegend
from app.widgets.lineup.lineup_offsets import LineupOffsets
from app.widgets.lineup.lineup_paper import Drawing, LineupCard
from app.widgets.lineup.lineup_signals import LineupSignals
from app.widgets.lineup.lineup_slips import SlipTable
from app.widgets.lineup.lineup_strip import LineupStrip
from tracecore.comparison import Comparison
from tracecore.lineup.drift import drift_curve
from tracecore.quantities import format_instant, format_time, group_digits

ROOM_FOR_ANSWER = 800
"""Pixels at 100 % that the answer keeps before the panel folds by itself."""
ROOM_FOR_TWO = 760
"""Pixels at 100 % from which on the cards stand in two columns."""


class VerdictMark(Drawing):
    """A box with a tick, a triangle, a question mark, or an H for what was set by hand."""

    def __init__(self) -> None:
        super().__init__()
        self.kind = "unknown"
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    def set_kind(self, kind: str) -> None:
        """Shows another mark."""
        self.kind = kind
        self.setAccessibleName({"fine": "fits", "look": "needs a look", "hand": "by hand"}.get(kind, "not known"))
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(round(self.px(38)), round(self.px(38)))

    def paintEvent(self, event: QPaintEvent) -> None:
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            box = QRectF(self.rect()).adjusted(1, 1, -1, -1)
            dashed = self.kind in ("unknown", "hand")
            painter.fillRect(box, QColor(self.theme.panel))
            style = Qt.PenStyle.DashLine if dashed else Qt.PenStyle.SolidLine
            painter.setPen(QPen(QColor(self.theme.ink), 2, style))
            painter.drawRect(box)
            if dashed:
                self.words(painter, box, "H" if self.kind == "hand" else "?", self.theme.ink, bold=True, middle=True)
            else:
                draw_mark(painter, box.adjusted(5, 5, -5, -5), self.kind, self.theme)


class LineupPage(Page):
    """Verdict, the whole capture, why, and what moves at the left; at the right all that changes the answer."""

    def __init__(self, context: PageContext, jobs: Jobs) -> None:
        super().__init__(context)
        self.jobs = jobs
        self.at = -1
        self._shown: Comparison | None = None
        layout = QHBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        self.scroll_area = QScrollArea()
        self.scroll_area.setWidgetResizable(True)
        self.scroll_area.setFrameShape(QFrame.Shape.NoFrame)
        self.scroll_area.setAccessibleName("Line-up")
        self.scroll_area.setWidget(self._answer())
        layout.addWidget(self.scroll_area, 1)
        self.panel = self._right()
        layout.addWidget(self.panel)
        self.refresh("case")
        self.retheme()

    def _answer(self) -> QWidget:
        body = QWidget()
        body.setObjectName("columnBody")
        column = QVBoxLayout(body)
        column.setContentsMargins(18, 12, 16, 12)
        column.setSpacing(8)
        head = QHBoxLayout()
        head.setSpacing(14)
        self.mark = VerdictMark()
        head.addWidget(self.mark, 0, Qt.AlignmentFlag.AlignTop)
        words = QVBoxLayout()
        words.setSpacing(2)
        self.headline, self.certainty, self.pair = label("", "heading"), label(""), label("", "muted")
        for one in (self.headline, self.certainty, self.pair):
            words.addWidget(one)
        head.addLayout(words, 1)
        column.addLayout(head)
        self.notices = NoticeLine(wrap=True)
        column.addWidget(self.notices)
        self.details = QWidget()
        inner = QVBoxLayout(self.details)
        inner.setContentsMargins(0, 0, 0, 0)
        inner.setSpacing(8)
        self._whole(inner)
        self._cards(inner)
        column.addWidget(self.details)
        column.addStretch(1)
        return body

    def _whole(self, column: QVBoxLayout) -> None:
        row = QHBoxLayout()
        row.addWidget(label("Whole capture", "strong", wrap=False), 0, Qt.AlignmentFlag.AlignTop)
        self.course = label("", "muted")
        row.addWidget(self.course, 1)
        column.addLayout(row)
        self.strip = LineupStrip()
        self.strip.chosen.connect(self.choose_slip)
        self.strip.opened.connect(self.open_slip)
        column.addWidget(self.strip)
        self.legend = LineupLegend()
        column.addWidget(self.legend)
        self.good_book, self.suspect_book = label("", "muted"), label("", "muted")
        sums = QVBoxLayout()
        sums.setSpacing(1)
        sums.addWidget(self.good_book)
        sums.addWidget(self.suspect_book)
        column.addLayout(sums)

    def _cards(self, column: QVBoxLayout) -> None:
        self.offsets, self.signals, self.drift, self.table = (
            LineupOffsets(),
            LineupSignals(),
            LineupDrift(),
            SlipTable(),
        )
        self.offset_card = LineupCard("Which offset fits", "")
        self.offset_card.body.addWidget(self.offsets)
        self.signal_card = LineupCard("Agreement per signal", "share of matched cycles that agree")
        self.signal_card.body.addWidget(self.signals)
        self.not_judging = label("")
        self.signal_card.body.addWidget(self.not_judging)
        self.drift_card = LineupCard("Drift", "suspect time less good time, same cycle, slips taken out")
        self.drift_card.body.addWidget(self.drift)
        self.drift_words = label("")
        self.drift_card.body.addWidget(self.drift_words)
        self.slip_card = LineupCard("Slips", "Enter shows it on Compare")
        self.slip_card.body.addWidget(self.table, 1)
        self.table.chosen.connect(self.choose_slip)
        self.table.opened.connect(self.open_slip)
        for card in (self.offset_card, self.signal_card, self.drift_card):
            card.body.addStretch(1)
        self.grid = QGridLayout()
        self.grid.setSpacing(12)
        column.addLayout(self.grid)
        self._columns = 0

    def _right(self) -> SidePanel:
        panel = SidePanel("What decides it", "Every change is compared at once", self.context.theme)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.choices = LineupChoices()
        session = self.context.session
        self.choices.clock_set.connect(self._set_clock)
        self.choices.family_set.connect(lambda name: session.change(SetFamily(name)))
        self.choices.offset_set.connect(lambda offset: session.change(SetOffset(offset)))
        self.choices.same_start_set.connect(lambda same: session.change(SetSameStart(same)))
        self.choices.allowances.tolerance_set.connect(lambda ps: session.change(SetTolerance(ps)))
        self.choices.allowances.same_file_set.connect(lambda same: session.change(SetSameFile(same)))
        self.choices.condition.applied.connect(lambda text: session.change(SetQualifier(text or None)))
        self.choices.condition.effect_wanted.connect(self._count_effect)
        scroll.setWidget(self.choices)
        panel.body.addWidget(scroll)
        return panel

    def _set_clock(self, name: str, edge: str) -> None:
        self.context.session.change(SetClock(name or None, "falling" if edge == "falling" else "rising"))

    def _count_effect(self, text: str) -> None:
        comparison = self.context.session.comparison
        if comparison is None:
            return

        def show(found: Any) -> None:
            self.choices.condition.show_effect(text, found)

        self.jobs.request("condition", lambda tell: effect(text, comparison, tell), show, self.said.emit)

    # ---- what is shown

    def refresh(self, what: str) -> None:
        if what in ("case", "comparison"):
            session = self.context.session
            self.choices.set_case(session.case, session.comparison, session.ready)
            self._fill()

    def _fill(self) -> None:
        session = self.context.session
        comparison = session.comparison if session.ready else None
        self.details.setVisible(comparison is not None)
        self.notices.set_notices(comparison.notices if comparison is not None else ())
        if comparison is None:
            waiting = "Being compared…" if session.ready else "Add a known-good and a suspect capture first."
            self._say_verdict("unknown", "Line-up", session.trouble or waiting, "")
        elif comparison is not self._shown:
            found = verdict(comparison.lineup)
            self._say_verdict(found.mark, found.headline, found.certainty, found.pair)
            self._shown = comparison
            self._fill_details(comparison)
        self._shown = comparison

    def _say_verdict(self, mark: str, headline: str, certainty: str, pair: str) -> None:
        self.mark.set_kind(mark)
        for widget, text in ((self.headline, headline), (self.certainty, certainty), (self.pair, pair)):
            widget.setText(text)
            widget.setVisible(bool(text))

    def _fill_details(self, comparison: Comparison) -> None:
        lineup = comparison.lineup
        self.at = -1
        self.course.setText(f"good above, suspect below · {course_words(lineup)}".removesuffix(" · "))
        self.strip.set_lineup(lineup)
        cover = lineup.coverage
        self.legend.set_coverage(lineup, cover)
        self.good_book.setText(book_words("good", cover.good))
        self.suspect_book.setText(book_words("suspect", cover.suspect))
        count = len(lineup.candidates)
        best = f"{count} best tried" if count > 1 else "one tried"
        self.offset_card.words.setText(f"{best} · by the soundest signals" if count else "")
        self.offsets.set_lineup(lineup)
        shares = signal_shares(comparison)
        self.signals.set_rows(shares)
        self.not_judging.setText(not_judging(shares))
        self.not_judging.setVisible(bool(self.not_judging.text()))
        self.drift.set_curve(drift_curve(lineup), drift_amount(comparison.drift), reads_to_ps(comparison))
        self.drift_words.setText("\n".join(drift_words(comparison.drift)))
        self.table.set_comparison(comparison, self.context.scale)
        self._lay_out()

    # ---- slips

    def choose_slip(self, number: int) -> None:
        """Chooses a slip on the strip and in the table alike."""
        if number != self.at:
            self.at = number
            self.strip.set_chosen(number)
            self.table.set_chosen(number)
            self.said.emit(self.status())

    def open_slip(self, number: int) -> None:
        """Opens Compare at the slip."""
        session = self.context.session
        if session.comparison is not None and 0 <= number < len(session.comparison.lineup.slips):
            self.choose_slip(number)
            slip = session.comparison.lineup.slips[number]
            self.context.act("page_compare")
            session.choose(signal=session.chosen.signal, cycle=slip.good_cycle)

    # ---- room and looks

    def retheme(self) -> None:
        theme, scale = self.context.theme, self.context.scale
        self.panel.set_scale(theme, scale)
        self.choices.set_theme(theme, scale)
        for drawing in (self.mark, self.strip, self.legend, self.offsets, self.signals, self.drift):
            drawing.set_theme(theme, scale)
        self.table.set_scale(scale)
        self.notices.set_theme(theme, scale)
        for widget, size in ((self.headline, 24), (self.certainty, 17)):
            widget.setStyleSheet(f"font-size: {round(size * min(scale, 1.6))}px;")
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        # an answer that came while another page was open: what it asks for is laid out before the first paint
        QCoreApplication.sendPostedEvents(None, QEvent.Type.LayoutRequest.value)

    def _fit(self) -> None:
        self.panel.fold(self.width() - self.panel.open_width < ROOM_FOR_ANSWER * min(1.1, self.context.scale))
        room = self.width() - self.panel.width()
        columns = 2 if room >= ROOM_FOR_TWO * self.context.scale else 1
        if columns != self._columns:
            self._columns = columns
            self._lay_out()

    def _lay_out(self) -> None:
        """The cards in one or two columns; one that has no neighbour takes the whole width."""
        shown = self._shown.lineup if self._shown is not None else None
        wanted = (
            (self.offset_card, True),
            (self.signal_card, bool(shown)),
            (self.drift_card, bool(shown)),
            (self.slip_card, shown is not None and bool(shown.slips)),
        )
        cards = [card for card, there in wanted if there]
        for card, there in wanted:
            self.grid.removeWidget(card)
            card.setVisible(there)
        columns = max(1, self._columns)
        for i, card in enumerate(cards):
            alone = i == len(cards) - 1 and i % columns == 0
            self.grid.addWidget(card, i // columns, i % columns, 1, columns if alone else 1)
        for column in range(2):
            self.grid.setColumnStretch(column, 1 if column < columns else 0)

    def begins_at(self) -> QWidget | None:
        return self.strip

    def status(self) -> str:
        comparison = self.context.session.comparison
        if comparison is None or not comparison.lineup:
            return "No line-up yet"
        lineup = comparison.lineup
        if not lineup.slips:
            return f"{group_digits(lineup.matched_cycles)} cycles matched, no slip"
        if not 0 <= self.at < len(lineup.slips):
            return (
                f"{group_digits(len(lineup.slips))} slips · arrows go from one to the next, Enter shows it on Compare"
            )
        slip = lineup.slips[self.at]
        last = len(lineup.good_edges_ps) - 1, len(lineup.suspect_edges_ps) - 1
        good_ps = int(lineup.good_edges_ps[min(slip.good_cycle, last[0])])
        suspect_ps = int(lineup.suspect_edges_ps[min(slip.suspect_cycle, last[1])])
        reads = "".join(f" · accurate to ±{format_time(c.resolution_ps)}" for c in comparison.request.good[:1])
        return (
            f"Slip {self.at + 1} of {group_digits(len(lineup.slips))} · good cycle {group_digits(slip.good_cycle)}, "
            f"suspect {group_digits(slip.suspect_cycle)} · {format_instant(good_ps)} good, "
            f"{format_instant(suspect_ps)} suspect{reads}"
        )

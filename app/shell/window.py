"""The frame: steps at the left, the form head above, the pages, and one line below.

Pages, pandas, scipy and pyqtgraph are imported where they are needed, after the first window is painted.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import QSize, Qt, QTimer
from PySide6.QtGui import (
    QCloseEvent,
    QResizeEvent,
)
from PySide6.QtWidgets import (
    QApplication,
    QHBoxLayout,
    QMessageBox,
    QVBoxLayout,
    QWidget,
)

from app.case.record import UNTITLED
from app.case.scratch import default_author, let_go, open_scratch
from app.model.actions import ACTIONS
from app.model.answers import Answers
from app.model.case_files import CaseFiles
from app.model.jobs import Jobs
from app.model.measured import Measuring
from app.model.places import shown_title
from app.model.report_files import ReportFiles
from app.model.session import Session
from app.model.settings import Settings
from app.model.theme import DARK, LIGHT, Theme, style_sheet
from app.pages.page import Page, PageContext
from app.shell import last_work
from app.shell.case_actions import CaseActions
from app.shell.enter_key import EnterPresses
from app.shell.log_actions import LogActions
from app.shell.menus import Menus
from app.shell.soak_actions import SoakActions
from app.shell.typing_keys import TypingFrame
from app.shell.view_actions import ViewActions
from app.steps.step import PageNeeds, Step, all_steps
from app.trouble_log import unforeseen
from app.widgets.controls.forms import fit
from app.widgets.controls.notice_line import SeverityMark
from app.widgets.controls.written_line import WrittenLine
from app.widgets.frame.bottom_line import BottomLine
from app.widgets.frame.caution_strip import CautionStrip
from app.widgets.frame.form_head import FormHead
from app.widgets.frame.frame_style import frame_style, palette
from app.widgets.frame.head_words import case_label, head_words
from app.widgets.frame.page_stack import PageStack
from app.widgets.frame.step_list import StepList

MARK_SIZE = 1.6
"""Of the mark beside a sentence that must be seen, against one in a line."""
ROOM_FOR_FRAME = QSize(1080, 600)
"""Pixels at 100 % below which the frame takes less room."""


class Window(TypingFrame):
    """The one window of the program."""

    def __init__(self, settings: Settings | None = None) -> None:
        super().__init__()
        self.settings = settings or Settings()
        author = self.settings.initials or default_author()
        self.session = Session(open_scratch(author, carry_on=True), author)
        self.jobs = Jobs(self)
        self.files = CaseFiles(self.session, self.jobs, self.settings.largest_inside_mb << 20)
        self.answers = Answers(self.session, self.jobs)
        self.answers.troubled.connect(self.trouble)
        self.reports = ReportFiles(self.session, self.jobs)
        self.reports.told.connect(self.say)
        self.reports.troubled.connect(self.trouble)
        self.reports.written.connect(self.show_written)
        self.measuring = Measuring(self.session, self.jobs)
        self.case_actions = CaseActions(self)
        self.soak_actions = SoakActions(self)
        self.log_actions = LogActions(self)
        self.view_actions = ViewActions(self)
        self.files.told.connect(self.say)
        self.files.troubled.connect(self.trouble)
        self.files.unsure.connect(self.case_actions.ask)
        self.files.apart.connect(self.case_actions.ask_apart)
        self.files.parts_met.connect(self.case_actions.ask_parts)
        self.files.outside.connect(self.case_actions.ask_outside)
        self.files.agreed.connect(self.answers.compare_again)
        self.context = PageContext(self.session, self.act, self._theme, self.settings.text_percent / 100)
        self.pages: dict[str, Page] = {}
        self.current = ""
        self._compact: bool | None = None
        self._let_go = False
        self._told_unforeseen = False
        self._build()
        self._make_actions()
        self.apply_look()
        self.enter = EnterPresses(self)
        self.session.listen(self._on_session)
        self.jobs.progressed.connect(self._on_progress)
        self.jobs.ended.connect(lambda _kind: self._on_idle())
        self._compare_soon = QTimer(self, singleShot=True, interval=50)
        self._compare_soon.timeout.connect(self.answers.compare_again)
        self.show_page("captures")
        self._refresh_frame()

    @property
    def _theme(self) -> Theme:
        return DARK if self.settings.dark else LIGHT

    def _build(self) -> None:
        self.setWindowTitle("Twinslot")
        self.setAcceptDrops(True)
        self.setMinimumSize(900, 560)
        fit(self, 1600, 900)
        centre = QWidget()
        self.setCentralWidget(centre)
        across = QHBoxLayout(centre)
        across.setContentsMargins(0, 0, 0, 0)
        across.setSpacing(0)
        self.steps = StepList([(step.name, step.row) for step in all_steps()], self.context.theme)
        self.steps.wanted.connect(self.show_page)
        across.addWidget(self.steps)
        down = QVBoxLayout()
        down.setSpacing(0)
        self.head = FormHead(self.context.theme)
        self.head.wanted.connect(self.show_page)
        down.addWidget(self.head)
        self.stack = PageStack()
        self.stack.currentChanged.connect(lambda _index: self.stack.updateGeometry())
        down.addWidget(self.stack, 1)
        self.foot = QVBoxLayout()
        self.caution = CautionStrip()
        self.caution.asked.connect(self.act)
        self.caution.closed.connect(self.view_actions.note_cautions)
        self.foot.addWidget(self.caution)
        self.written = WrittenLine(wide=True)
        self.written.print_wanted.connect(self.print_pdf)
        self.foot.addWidget(self.written)
        down.addLayout(self.foot)
        across.addLayout(down, 1)
        self.bottom = BottomLine(self.statusBar())
        self.bottom.stop_wanted.connect(self.do_stop)
        self.bottom.watch_wanted.connect(self.soak_actions.do_watch_folder)

    def _make_actions(self) -> None:
        self._does = self._bound()
        self.menus = Menus(self, (*ACTIONS, *(step.row for step in all_steps())), self.act)
        self.actions_by_name, self._texts = self.menus.by_name, self.menus.texts

    def _bound(self) -> dict[str, Callable[[], None]]:
        """Every action with what does it while no open page has it of its own."""
        does: dict[str, Callable[[], None]] = {
            "stop": self.do_stop,
            "compare_again": self.do_compare_again,
            "undo": self.do_undo,
            "redo": self.do_redo,
            "recent_cases": lambda: self.menus.recent.popup(self.mapToGlobal(self.rect().center())),
            "demo_cases": lambda: self.menus.demos.popup(self.mapToGlobal(self.rect().center())),
            "quit": self.do_quit,
        }
        for owner in (self.case_actions, self.soak_actions, self.view_actions, self.log_actions):
            does |= owner.actions()
        for step in all_steps():
            does |= {name: partial(self._on_page, step.name, name) for name in step.actions if name not in does}
            does[step.row.name] = partial(self.show_page, step.name)
        return does

    @property
    def bound_actions(self) -> dict[str, Callable[[], None]]:
        """Every action of the window with what does it."""
        return dict(self._does)

    def _on_page(self, page: str, name: str) -> None:
        hindered = self._step(page).hinders(self.session, name)
        if hindered:
            self.say(hindered)
            return
        self.show_page(page)
        self.pages[page].do(name)

    def act(self, name: str) -> None:
        """Does an action by its name: the open page's own, else the window's, else that of the page it belongs to."""
        page = self.pages.get(self.current)
        if page is None or not page.do(name):
            self._does[name]()

    # ---- pages and looks

    def show_page(self, name: str) -> None:
        """Opens a page; it is made when it is first wanted."""
        page = self.made_page(name)
        self.current = name
        self.stack.setCurrentWidget(page)
        self.steps.set_current(name)
        here = self._step(name).only_open
        for key in {key for step in all_steps() for key in step.only_open}:
            self.actions_by_name[key].setEnabled(key in here)
        self.say(self.pages[name].status())
        if not self.writing():
            page.take_focus()
        self._compare_if_wanted()

    def made_page(self, name: str) -> Page:
        """The page of that name, made where it was not wanted before."""
        if name not in self.pages:
            page = self._step(name).make(self._page_needs())
            page.said.connect(lambda text, name=name: self.say(text) if self.current == name else None)
            self.pages[name] = page
            self.stack.addWidget(page)
            if page.line_strip is not None:
                self.log_actions.drafts.attach("log", page.line_strip)
            if page.begun_marks is not None:
                self.log_actions.drafts.attach_marks(page.begun_marks)
        return self.pages[name]

    def _compare_if_wanted(self) -> None:
        """Compares where the answer is looked at, or where it costs no reading."""
        session = self.session
        if not session.ready or session.current or session.trouble or self.jobs.busy("compare"):
            return
        if session.at_hand or self._step(self.current).asks_comparison:
            self._compare_soon.start()

    def _step(self, name: str) -> Step:
        return next(step for step in all_steps() if step.name == name)

    def _page_needs(self) -> PageNeeds:
        return PageNeeds(
            self.context,
            self.jobs,
            self.settings,
            open_case=self.open_file,
            fill_card=self.case_actions.do_fill_card,
            sign=self.sign,
            trouble=self.trouble,
            add_captures=self.case_actions.ask_captures,
            open_demo=self.open_demo,
        )

    def apply_look(self) -> None:
        """Puts theme and text size on everything."""
        self.context.theme, self.context.scale = self._theme, self.settings.text_percent / 100
        sheet = style_sheet(self.context.theme, self.context.scale) + frame_style(
            self.context.theme, self.context.scale
        )
        # dialogs are windows of their own and take the application's
        QApplication.setPalette(palette(self.context.theme))
        self.setStyleSheet(sheet)
        self.steps.set_theme(self.context.theme)
        self.head.set_theme(self.context.theme)
        self._fit_frame()
        for page in self.pages.values():
            page.retheme()
        self.log_actions.retheme()
        self.settings.save()

    def _fit_frame(self) -> None:
        """Where large text leaves little room, steps are numbers with stamps, and the head is one line."""
        room = self.size() / self.context.scale
        compact = room.width() < ROOM_FOR_FRAME.width() or room.height() < ROOM_FOR_FRAME.height()
        if compact != self._compact:
            self._compact = compact
            self.steps.set_compact(compact)
            self.head.set_compact(compact)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit_frame()

    def say(self, text: str) -> None:
        """The line at the bottom."""
        self.bottom.say(text)

    def show_written(self, path: Path) -> None:
        """Says where a file is, and offers to open or print it."""
        self.say(f"Written: {path}")
        self.written.tell(path)

    def print_pdf(self, path: Path) -> None:
        """Asks for a printer and prints a PDF."""
        from app.shell.printing import ask_and_print, pdf_pictures

        self.say(ask_and_print(self, lambda: pdf_pictures(path)))

    # ---- what the session tells

    def _on_session(self, what: str) -> None:
        if what == "opened":
            # a line that was begun belongs to the case that was open
            self.log_actions.drafts.keep()
        for page in tuple(self.pages.values()):
            page.refresh(what)
        if what == "refused":
            self.trouble(self.session.trouble)
            return
        if what == "opened":
            self._compare_soon.stop()
            self.log_actions.drafts.give_back()
        if what == "case":
            last_work.note_case(self)
            self.log_actions.drafts.follow()
            self.answers.check_all()
            if not self.session.ready:
                self.jobs.stop("compare")
            elif not self.session.current:
                # an answer to what was asked before is of no use any more
                self.jobs.stop("compare", quietly=True)
                self._compare_if_wanted()
        if what == "comparison":
            self.answers.check_all()
        if what == "comparison" and self.files.show_answer:
            self.files.show_answer = False
            self.show_page("compare")
        self._refresh_frame()
        self.say(self.pages[self.current].status())

    def _refresh_frame(self) -> None:
        for name, wordings in head_words(self.session).items():
            self.head.boxes[name].set_value(wordings, case_label(self.session) if name == "case" else "")
        self.head.share()
        for step in all_steps():
            self.steps.rows[step.name].set_state(step.stamp(self.session))
        for name, words in (("undo", self.session.can_undo), ("redo", self.session.can_redo)):
            made = self.actions_by_name[name]
            made.setText(f"{self._texts[name]}: {words.replace('&', '&&')}" if words else self._texts[name])
            made.setEnabled(bool(words))
        self.actions_by_name["write_report"].setEnabled(self.session.current or bool(self.session.case.entries))
        self.actions_by_name["compare_again"].setEnabled(self.session.ready)
        case = self.session.case
        title = shown_title(self.session.store, case.title, UNTITLED)
        known = self.session.ready or title != UNTITLED
        named = f"Case {case.number} · {title}" if case.number else title
        self.setWindowTitle(f"{named} – Twinslot" if known else "Twinslot")

    # ---- jobs

    def _on_progress(self, _kind: str, share: float, words: str) -> None:
        self.bottom.show_progress(share, words)

    def _on_idle(self) -> None:
        if self.jobs.idle:
            self.bottom.end_progress()
            self.say(self.pages[self.current].status())

    def trouble(self, sentence: str) -> None:
        """One sentence that must be seen; the case stays as it was."""
        self._told(sentence)

    def _told(self, sentence: str) -> QMessageBox:
        self.say(sentence)
        box = QMessageBox(QMessageBox.Icon.NoIcon, "Twinslot", sentence, QMessageBox.StandardButton.Ok, self)
        box.setIconPixmap(SeverityMark("look", self.context.theme, MARK_SIZE).picture())
        box.setTextFormat(Qt.TextFormat.PlainText)
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        box.open()
        return box

    def tell_unforeseen(self, error: BaseException) -> None:
        """What nobody foresaw, in a dialog; one at a time, since what fails while painting fails again and again."""
        if isinstance(error, KeyboardInterrupt):
            self.close()
            return
        sentence = unforeseen(error)
        if self._told_unforeseen:
            self.say(sentence)
            return
        self._told_unforeseen = True
        self._told(sentence).finished.connect(self._unforeseen_read)

    def _unforeseen_read(self) -> None:
        self._told_unforeseen = False

    def do_stop(self) -> None:
        """Stops reading, checking, comparing and writing."""
        self.files.forget_queue()
        for kind in ("read", "look", "check", "pair", "compare", "measure", "chips", "report", "photo", "seen"):
            self.jobs.stop(kind)
        self._on_idle()
        self.say("Stopped")

    def do_compare_again(self) -> None:
        """Compares the case as it stands."""
        if not self.session.ready:
            self.say("Add a known-good and a suspect capture first")
        self.answers.compare_again()

    def open_file(self, path: str | Path) -> None:
        """Opens a case file, or makes it; its log is shown first where there is one."""
        if self.files.open_file(path):
            self.show_page("log" if self.session.case.entries else "captures")

    def open_demo(self, name: str) -> None:
        """Opens a demo case by its name."""
        from demo_traces import CASES

        self.files.open_demo(CASES[name])

    def sign(self, initials: str) -> None:
        """Entries, marks and changes are signed with these from now on."""
        self.settings.initials = initials
        self.settings.save()
        self.session.author = initials

    # ---- edit, quit

    def do_undo(self) -> None:
        """Takes the last change back."""
        words = self.session.undo()
        self.say(f"Taken back: {words}" if words else "Nothing to take back")

    def do_redo(self) -> None:
        """Does it again."""
        words = self.session.redo()
        self.say(f"Done again: {words}" if words else "Nothing to do again")

    def do_quit(self) -> None:
        """Closes the window."""
        self.close()

    # ---- closing

    def closeEvent(self, event: QCloseEvent) -> None:
        self._compare_soon.stop()
        self.soak_actions.close_up()
        self.jobs.stop_all()
        if not self._let_go:
            self.log_actions.drafts.keep()
            last_work.remember(self)
        self.settings.save()
        if not self._let_go:
            self._let_go = True
            let_go(self.session.store)
        super().closeEvent(event)

"""Step 7: the case's history, the opened entry, and the line in which the next one is written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QTimer, Signal
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QPixmap, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QVBoxLayout, QWidget

from app.case.changes import Put
from app.case.circuit_changes import SetDonors
from app.case.dates import time_words
from app.case.errors import CaseError
from app.case.record import next_id
from app.case.values import Entry, Mark, Picture, Proof, Unlike
from app.model.log_changes import (
    line_change,
    part_changes,
    picture_change,
    proof_change,
    stamp_change,
)
from app.model.log_lines import LogLine, chosen_entry, log_lines, opened_words
from app.model.stock import offers_for
from app.pages.log_cases import EarlierCases
from app.pages.log_readings import LogReadings
from app.pages.page import Page, PageContext
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.forms import open_form
from app.widgets.controls.label import label
from app.widgets.log.log_entry import EntryView
from app.widgets.log.log_line import LineStrip
from app.widgets.log.log_list import LogList
from app.widgets.log.log_panel import LogPanel
from app.widgets.log.photo_files import PHOTO_FILES, photos_of
from tracecore.errors import TwinslotError

if TYPE_CHECKING:
    from app.model.jobs import Jobs
    from app.model.settings import Settings
    from app.widgets.log.log_forms import PartForm

ROOM_FOR_LOG = 900
"""Pixels at 100 % that list and entry keep before the panel folds by itself."""
LIST_SHARE, LIST_MOST = 0.4, 420
ROOM_FOR_STRIP, ROOM_FOR_RULES = 520, 560
"""Pixels of height at 100 %, below which the strip shows only its words, and the list's head one line less."""
KEYS = "In the log list: arrows move, Enter opens, N new line, C correct, G go to the cycle"


class LogPage(Page):
    """``case_wanted`` carries the path of another case, ``card_wanted`` a bench card's number, ``signed`` other
    initials, ``troubled`` a sentence."""

    case_wanted = Signal(object)
    card_wanted = Signal(str)
    signed = Signal(str)
    troubled = Signal(str)

    def __init__(self, context: PageContext, jobs: Jobs, settings: Settings) -> None:
        super().__init__(context)
        self._jobs = jobs
        self._lines: tuple[LogLine, ...] = ()
        self._photos: dict[str, QPixmap | None] = {}
        self._going: tuple[str | None, int, int | None] | None = None
        self.setAcceptDrops(True)
        across = QHBoxLayout(self)
        across.setContentsMargins(0, 0, 0, 0)
        across.setSpacing(0)
        left = QVBoxLayout()
        left.setSpacing(0)
        upper = QHBoxLayout()
        upper.setSpacing(0)
        upper.addWidget(self._list_column())
        self.entry = EntryView(context.session, self._photo)
        upper.addWidget(self.entry, 1)
        left.addLayout(upper, 1)
        self.strip = LineStrip(context.theme)
        self.line_strip = self.strip
        left.addWidget(self.strip)
        across.addLayout(left, 1)
        self.panel = LogPanel(context.theme)
        across.addWidget(self.panel)
        self.earlier = EarlierCases(self, jobs, settings, self.panel)
        self.readings = LogReadings(self)
        self._wire()
        self.retheme()
        self.refresh("opened")
        self.refresh("case")

    def _list_column(self) -> QWidget:
        self.column = QWidget()
        self.column.setObjectName("logColumn")
        down = QVBoxLayout(self.column)
        down.setContentsMargins(14, 10, 12, 8)
        down.setSpacing(4)
        down.addWidget(label("Repair log", "heading", wrap=False))
        self.opened = ElidedLabel("", "muted")
        down.addWidget(self.opened)
        self.rules = ElidedLabel("Oldest first. Entries stay; a correction is a new line.", "muted")
        down.addWidget(self.rules)
        self.list = LogList(self.context.theme)
        down.addWidget(self.list, 1)
        return self.column

    def _wire(self) -> None:
        session, act = self.context.session, self.context.act
        self.list.chosen.connect(lambda number: session.choose(entry=number))
        self.list.asked.connect(act)
        self.list.entered.connect(self.entry.setFocus)
        self.entry.asked.connect(act)
        self.entry.entry_wanted.connect(lambda number: session.choose(entry=number))
        self.entry.mark_wanted.connect(self._go_to_mark)
        self.entry.captioned.connect(self._caption)
        self.strip.kept.connect(self._keep_line)
        self.strip.left.connect(self._leave_line)
        self.strip.picture_wanted.connect(lambda: self._ask_photos(self._add_to_strip))
        self.panel.asked.connect(act)
        self.panel.state_wanted.connect(lambda state: session.change(stamp_change(session.case, state, session.author)))
        self.panel.case_wanted.connect(self.case_wanted)
        self.panel.unlike_wanted.connect(lambda identity: session.change(Put(Unlike(0, identity))))
        self.panel.searched.connect(self.earlier.search)

    # ---- what it shows

    @property
    def opened_entry(self) -> Entry | None:
        """The entry that is open: the chosen one, else the newest."""
        return chosen_entry(self.context.session.case, self.context.session.chosen.entry)

    def refresh(self, what: str) -> None:
        if what == "opened":
            self._photos = {}
            self._going = None
            self.panel.search.clear()
            self.earlier.forget()
            self.strip.begin()
        if what == "comparison":
            self._go_on()
        if what in ("case", "comparison"):
            self._show_case()
            self.earlier.look_soon()
        elif what == "chosen":
            self._show_entry()
        self.said.emit(self.status())

    def _show_case(self) -> None:
        session = self.context.session
        self._lines = log_lines(session.case)
        self.opened.setText(opened_words(session.case))
        self.strip.set_author(session.author)
        self.strip.set_marks(session.case.marks)
        self.panel.show_case(session.case, session.current or bool(session.case.entries))
        self._show_entry()

    def _show_entry(self) -> None:
        entry = self.opened_entry
        number = None if entry is None else entry.id
        self.list.show_lines(self._lines, number)
        self.entry.show_entry(self._lines, number, self.context.theme, self.context.scale)

    def _photo(self, picture: Picture) -> QPixmap | None:
        """The photo, unpacked once; None where the case has not all of it."""
        if picture.stored not in self._photos:
            from app.case.photos import photo_bytes

            photo = QPixmap()
            try:
                whole = photo.loadFromData(photo_bytes(self.context.session.store, picture.stored))
            except CaseError:
                whole = False
            self._photos[picture.stored] = photo if whole else None
        return self._photos[picture.stored]

    def retheme(self) -> None:
        theme, scale = self.context.theme, self.context.scale
        self.list.set_theme(theme)
        self.strip.set_look(theme, scale)
        self.panel.set_scale(theme, scale)
        self._fold_for_room()
        self._show_case()
        self.earlier.forget()
        self.earlier.look_soon()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fold_for_room()
        # photo and figure stand side by side where there is room
        QTimer.singleShot(0, self, self._show_entry)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self.earlier.look_soon()

    def _fold_for_room(self) -> None:
        scale = self.context.scale
        self.panel.fold(self.width() - self.panel.open_width < ROOM_FOR_LOG * scale)
        self.strip.set_tight(self.height() < ROOM_FOR_STRIP * scale)
        self.rules.setVisible(self.height() > ROOM_FOR_RULES * scale)
        self.opened.setVisible(self.height() > ROOM_FOR_RULES * scale / 2)
        room = self.width() - self.panel.width()
        self.column.setFixedWidth(max(240, min(round(LIST_MOST * scale), round(room * LIST_SHARE))))

    def begins_at(self) -> QWidget | None:
        return self.list if self.context.session.case.entries else self.strip.words

    def status(self) -> str:
        saved = self.context.session.store.saved_at
        return "  ·  ".join(part for part in (f"Saved {time_words(saved)}" if saved else "", KEYS) if part)

    # ---- lines

    def _keep_line(self, entry: Entry) -> None:
        session = self.context.session
        if entry.text in {card.number for card in session.case.cards}:
            # a card's number alone asks for its form, with the same rows as on paper
            self.strip.begin(self.strip.kind)
            self.card_wanted.emit(entry.text)
            return
        if entry.author != session.author:
            self.signed.emit(entry.author)
        number = next_id(session.case.entries)
        if not session.change(line_change(session.case, entry, self.strip.pictures, counts=True)):
            return
        kind = self.strip.kind
        self.strip.begin(kind)
        self.strip.set_cycle(None)
        session.choose(entry=number)

    def _leave_line(self) -> None:
        if self.strip.holds_words:
            self.said.emit("The line stays as far as it is written. F4 goes on with it")
        else:
            self.strip.begin()
        self.list.setFocus()

    def _begin(self, *, because: Entry | None = None, corrects: Entry | None = None) -> None:
        if self.strip.holds_words:
            self.said.emit("A line is being written: add it, or clear its words first")
        else:
            self.strip.begin(because=because, corrects=corrects)
        self.strip.words.setFocus()
        self.strip.words.end(False)

    def own_actions(self) -> dict[str, Callable[[], None]]:
        """Each action of the table that is done here."""
        return {
            "new_line": self.do_new_line,
            "because_line": self.do_because_line,
            "correct_line": self.do_correct_line,
            "add_picture": self.do_add_picture,
            "add_part": self.do_add_part,
            **self.readings.actions(),
            "add_proof": self.do_add_proof,
            "case_state": self.do_case_state,
            "go_to_mark": self.do_go_to_mark,
            "cases_folder": self.do_cases_folder,
        }

    def do_new_line(self) -> None:
        """Writes a new line; words of an unfinished one stay."""
        self.strip.words.setFocus()

    def do_because_line(self) -> None:
        """A new line because of the opened one."""
        if self.has_entry():
            self._begin(because=self.opened_entry)

    def do_correct_line(self) -> None:
        """A new line that puts the opened one right."""
        entry = self.opened_entry
        if not self.has_entry() or entry is None:
            return
        later = next((other for other in self.context.session.case.entries if other.corrects == entry.id), None)
        if later is not None:
            self.said.emit(f"Entry {later.id} puts it right already; correct that one")
            return
        self._begin(corrects=entry)

    def has_entry(self) -> bool:
        """Is an entry open? Where the log has none, that is said."""
        if self.opened_entry is None:
            self.said.emit("The log has no line yet; F4 begins one")
        return self.opened_entry is not None

    # ---- what belongs to the opened line

    def do_add_picture(self) -> None:
        """Asks for photos and puts them beside the opened entry."""
        if self.has_entry():
            self._ask_photos(self._add_to_entry)

    def _ask_photos(self, answer: Callable[[Sequence[Picture]], None]) -> None:
        paths, _ = QFileDialog.getOpenFileNames(self, "Add photos", "", PHOTO_FILES)
        self._take_photos([Path(path) for path in paths], answer)

    def _take_photos(self, paths: Sequence[Path], answer: Callable[[Sequence[Picture]], None]) -> None:
        if not paths:
            return
        store = self.context.session.store

        def work(tell: Callable[[float, str], None]) -> tuple[Picture, ...]:
            from app.case.photos import take_photo

            taken = []
            for i, path in enumerate(paths):
                tell(i / len(paths), f"taking {path.name} into the case")
                taken.append(take_photo(path, store))
            return tuple(taken)

        self._jobs.request("photo", work, answer, self.troubled.emit)

    def _add_to_entry(self, pictures: Sequence[Picture]) -> None:
        session, entry = self.context.session, self.opened_entry
        if entry is not None:
            session.change(picture_change(session.case, entry, pictures))

    def _add_to_strip(self, pictures: Sequence[Picture]) -> None:
        self.strip.set_pictures((*self.strip.pictures, *pictures))

    def _caption(self, number: int, text: str) -> None:
        session = self.context.session
        for picture in session.case.pictures:
            if picture.id == number:
                session.change(Put(replace(picture, caption=text)))

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if photos_of(event.mimeData()):
            event.acceptProposedAction()
            self.said.emit("Let go to put the photo beside the opened entry, or over the new line to put it there")
        else:
            event.ignore()

    def dropEvent(self, event: QDropEvent) -> None:
        paths = photos_of(event.mimeData())
        if not paths:
            event.ignore()
            return
        event.acceptProposedAction()
        in_strip = self.strip.geometry().contains(event.position().toPoint())
        on_line = in_strip or self.opened_entry is None
        self._take_photos(paths, self._add_to_strip if on_line else self._add_to_entry)

    def do_add_part(self) -> None:
        """A form for a part that went in, and the one that came out."""
        from app.widgets.log.log_forms import PartForm

        session, entry = self.context.session, self.opened_entry
        form = PartForm(self, lambda number: offers_for(session.case, number))
        form.stock_wanted.connect(lambda: self._ask_stock(form))
        form.filled.connect(lambda part, ways: session.change(part_changes(entry, session.author, part, *ways)))
        open_form(form)

    def _ask_stock(self, form: PartForm) -> None:
        path, _ = QFileDialog.getOpenFileName(self, "Stock list", "", "CSV (*.csv);;All files (*)")
        if path:
            self.open_stock(path)
            form.show_offers()

    def open_stock(self, path: str | Path) -> None:
        """Takes a stock list into the case; where it cannot be read a dialog says why."""
        from tracecore.circuit.parts.replacements import read_donors

        try:
            self.context.session.change(SetDonors(read_donors(path)))
        except TwinslotError as error:
            self.troubled.emit(str(error))

    def do_add_proof(self) -> None:
        """A form for how many captures after the repair diverge."""
        from app.widgets.log.log_forms import ProofForm

        session, entry = self.context.session, self.opened_entry

        def put(proof: Proof, because: bool) -> None:
            number = next_id(session.case.entries)
            ties = (entry.id,) if because and entry is not None else ()
            if session.change(proof_change(session.case, session.author, proof, ties)):
                session.choose(entry=number)

        form = ProofForm(entry, self)
        form.filled.connect(put)
        open_form(form)

    def do_case_state(self) -> None:
        """Goes to the boxes of the case's state."""
        self.panel.fold(False, by_hand=True)
        self.panel.states.boxes[self.context.session.case.state].setFocus()

    # ---- to the traces

    def do_go_to_mark(self) -> None:
        """Goes to the opened entry's mark, else to its cycle, else to its figure's."""
        entry = self.opened_entry
        if entry is None:
            self.said.emit("The log has no line yet; F4 begins one")
        elif entry.marks and any(mark.id in entry.marks for mark in self.context.session.case.marks):
            self._go_to_mark(next(mark.id for mark in self.context.session.case.marks if mark.id in entry.marks))
        elif entry.cycle is not None:
            self._go(entry.figure.signal if entry.figure is not None else None, entry.cycle, None)
        elif entry.figure is not None:
            self._go(entry.figure.signal, entry.figure.cycle, None)
        else:
            self.said.emit("This entry has no mark and no cycle to go to")

    def _go_to_mark(self, number: int) -> None:
        mark: Mark = next(mark for mark in self.context.session.case.marks if mark.id == number)
        self._go(mark.signals[0] if mark.signals else None, mark.first_cycle, number)

    def _go(self, signal: str | None, cycle: int, mark: int | None) -> None:
        """Shows a cycle in Compare; where nothing is compared yet, as soon as it is."""
        session = self.context.session
        if not session.current:
            if not session.ready:
                self.said.emit("There is no capture on each side to go to")
                return
            self._going = (signal, cycle, mark)
        self.context.act("page_compare")
        if session.current:
            session.choose(signal=signal, cycle=cycle, mark=mark)

    def _go_on(self) -> None:
        """What was to be shown is compared now."""
        if self._going is not None and self.context.session.current:
            signal, cycle, mark = self._going
            self._going = None
            QTimer.singleShot(0, self, lambda: self.context.session.choose(signal=signal, cycle=cycle, mark=mark))

    def do_cases_folder(self) -> None:
        """Asks for a folder in which earlier cases are looked for too."""
        self.earlier.ask_folder()

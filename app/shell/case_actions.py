"""What the window asks a person for: files, names, a folder. Each method is an action of the table."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QFileDialog, QMessageBox

from app.case.record import SIDE_WORDS, Side
from app.case.scratch import is_scratch
from app.case.store import SUFFIX
from app.harmless import plain
from app.model.places import folder_for
from app.shell.capture_actions import CaptureActions
from app.widgets.controls.forms import open_form

SHEET_FILES = "Probe sheets (*.csv *.txt);;All files (*)"
CASE_FILES = f"Cases (*{SUFFIX});;All files (*)"
PAIR_FILES = "Value change dump (*.vcd);;Plain rows (*.csv)"
PDF_FILES = "PDF (*.pdf)"
PICTURE_FILES = "Pictures (*.png)"
MOST_ASKED = 8
"""So many files are asked for at once."""


class CaseActions(CaptureActions):
    """The actions of the Case menu."""

    def _folder(self) -> str:
        """Where dialogs open: beside the case, else in the documents folder."""
        return str(folder_for(self.session.store))

    def actions(self) -> dict[str, Callable[[], None]]:
        """Each action of the table that is done here."""
        return {
            **super().actions(),
            "new_case": self.do_new_case,
            "open_case": self.do_open_case,
            "save_case": self.do_save_case,
            "keep_as": self.do_keep_as,
            "describe_case": self.do_describe_case,
            "open_sheet": self.do_open_sheet,
            "good_sheet": partial(self.ask_side_sheet, "good"),
            "suspect_sheet": partial(self.ask_side_sheet, "suspect"),
            "open_wires": self.do_open_wires,
            "save_sheet": self.do_save_sheet,
            "write_report": self.do_write_report,
            "write_pair": self.do_write_pair,
            "bench_card": self.do_bench_card,
            "fill_card": self.do_fill_card,
            "page_picture": self.do_page_picture,
            "copy_picture": self.do_copy_picture,
            "print_page": self.do_print_page,
        }

    # ---- cases

    def ask_outside(self, paths: Sequence[Path]) -> None:
        """Asks whether the files that a case names outside it may be read; without a yes they stay unread. A yes holds
        for those that the question shows."""
        box = QMessageBox(self.window)
        box.setWindowTitle("Files outside the case")
        box.setTextFormat(Qt.TextFormat.PlainText)
        shown = paths[:MOST_ASKED]
        more = f"\n{len(paths) - len(shown)} more are asked for after these." if len(paths) > len(shown) else ""
        # a name with a line's end in it must not look like two
        box.setText("\n".join(plain(str(path)).replace("\n", " ") for path in shown) + more)
        box.setInformativeText(
            "This case names these files on this computer. They are read only with your yes. Say yes if you know them; "
            "a case from somebody else may name any file."
        )
        read = box.addButton("Read them", QMessageBox.ButtonRole.AcceptRole)
        leave = box.addButton("Do not read them", QMessageBox.ButtonRole.RejectRole)
        box.setDefaultButton(leave)
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        read.clicked.connect(lambda: self.files.agree_to_outside(shown))
        box.open()

    def do_new_case(self) -> None:
        """Asks for a name and begins a case there."""
        path, _ = QFileDialog.getSaveFileName(self.window, "Begin a new case", self._folder(), CASE_FILES)
        if path:
            self.window.open_file(Path(path) if Path(path).suffix else Path(path).with_suffix(SUFFIX))

    def do_open_case(self) -> None:
        """Asks for a case file and opens it."""
        path, _ = QFileDialog.getOpenFileName(self.window, "Open a case", self._folder(), CASE_FILES)
        if path:
            self.window.open_file(path)

    def do_save_case(self) -> None:
        """Asks for a name where the case has none; one that has is saved already."""
        store = self.session.store
        if is_scratch(store):
            self.do_keep_as()
        else:
            self.window.say(f"Every change is in {store.path} already; nothing waits to be saved")

    def do_keep_as(self) -> None:
        """Asks for a name under which the case goes on."""
        path, _ = QFileDialog.getSaveFileName(self.window, "Keep the case under a name", self._folder(), CASE_FILES)
        if path:
            self.files.keep_as(path)

    def do_describe_case(self) -> None:
        """Asks for title and number, the two units, and the initials that entries are signed with."""
        from app.widgets.forms.case_form import CaseForm

        form = CaseForm(self.session, self.window)
        form.signed.connect(self.window.sign)
        open_form(form)

    # ---- sheets

    def do_open_sheet(self) -> None:
        """Asks for a probe sheet."""
        path, _ = QFileDialog.getOpenFileName(self.window, "Open a probe sheet", self._folder(), SHEET_FILES)
        if path:
            self.files.open_sheet(path)

    def ask_side_sheet(self, side: Side) -> None:
        """Asks for a probe sheet of one side alone."""
        title = f"Open a probe sheet of the {SIDE_WORDS[side].lower()} side"
        path, _ = QFileDialog.getOpenFileName(self.window, title, self._folder(), SHEET_FILES)
        if path:
            self.files.open_sheet(path, side)

    def do_open_wires(self) -> None:
        """Asks for a wire list."""
        path, _ = QFileDialog.getOpenFileName(self.window, "Open a wire list", self._folder(), SHEET_FILES)
        if path:
            self.files.open_wires(path)

    def do_save_sheet(self) -> None:
        """Asks for a name and writes the sheet as CSV."""
        path, _ = QFileDialog.getSaveFileName(
            self.window, "Save the probe sheet", self.session.case.sheet.path or self._folder(), SHEET_FILES
        )
        if path:
            self.files.save_sheet(path)

    # ---- what goes out

    def do_write_report(self) -> None:
        """Shows the report's pages and asks what it is to hold and where it is to go."""
        if not self.session.current and not self.session.case.entries:
            self.window.say("Nothing compared and nothing in the log yet, so there is nothing to report")
            return
        from app.widgets.forms.report_form import ReportForm

        form = ReportForm(self.window.reports, self.window.context.scale, self.window)
        form.folderWanted.connect(self._write_folder)
        form.pdfWanted.connect(self._write_pdf)
        form.written.print_wanted.connect(self.window.print_pdf)
        open_form(form)

    def _write_folder(self, sections: tuple[str, ...], page: str) -> None:
        folder = QFileDialog.getExistingDirectory(self.window, "Write the report into an empty folder", self._folder())
        if folder:
            self.window.reports.write_report(folder, sections, page)

    def _write_pdf(self, sections: tuple[str, ...], page: str) -> None:
        name = str(Path(self._folder()) / f"{self.session.case.named.replace('/', '-')}.pdf")
        path, _ = QFileDialog.getSaveFileName(self.window, "Write the report as PDF", name, PDF_FILES)
        if path:
            self.window.reports.write_pdf(path, sections, page)

    def do_write_pair(self) -> None:
        """Asks for a name and writes both sides on one time."""
        if not self.session.current:
            self.window.say("Nothing compared yet, so there are no sides to put on one time")
            return
        path, _ = QFileDialog.getSaveFileName(self.window, "Both sides on one time", self._folder(), PAIR_FILES)
        if path:
            self.window.reports.write_pair(path)

    def do_bench_card(self) -> None:
        """Makes a bench card of the chosen likely cause, keeps it and writes it as PDF."""
        cause = self.session.cause(self.session.chosen.cause)
        if cause is None or not self.session.current:
            self.window.say("A bench card is made of a likely cause: compare first, and choose one")
            return
        from app.case.card_rows import card_number

        name = str(Path(self._folder()) / f"bench-card-{card_number(self.session.case)}.pdf")
        path, _ = QFileDialog.getSaveFileName(self.window, "Write the bench card", name, PDF_FILES)
        if path:
            self.window.reports.write_card(cause, path)

    def do_fill_card(self, number: str = "") -> None:
        """Opens a bench card's form, the newest card first."""
        cards = self.session.case.cards
        if not cards:
            self.window.say("The case has no bench card yet: Case, Bench card… makes one of the chosen likely cause")
            return
        from app.widgets.forms.card_dialog import CardDialog

        known = {card.number for card in cards}
        context = self.window.context
        number = number if number in known else cards[-1].number
        open_form(CardDialog(self.session, number, context.theme, context.scale, self.window))

    def do_page_picture(self) -> None:
        """Saves what the open page shows as a picture."""
        name = str(Path(self._folder()) / f"{self.session.case.title} {self.window.current}.png".replace("/", "-"))
        path, _ = QFileDialog.getSaveFileName(self.window, "Picture of this page", name, PICTURE_FILES)
        if not path:
            return
        if self.window.grab().save(path, "PNG"):
            self.window.show_written(Path(path))
        else:
            self.window.trouble(f"{path}: the picture cannot be written. Choose another place.")

    def do_copy_picture(self) -> None:
        """Puts a picture of the open page on the clipboard."""
        QGuiApplication.clipboard().setPixmap(self.window.pages[self.window.current].grab())
        self.window.say("A picture of the page is on the clipboard")

    def do_print_page(self) -> None:
        """Prints what the open page shows."""
        from app.shell.printing import ask_and_print

        picture = self.window.pages[self.window.current].grab().toImage()
        self.window.say(ask_and_print(self.window, lambda: (picture,)))

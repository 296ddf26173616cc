"""What the window asks a person for about captures: which files, what they are, and what takes whose place."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFileDialog

from app.case.read_settings import read_settings_of
from app.case.record import SIDE_WORDS, Side
from app.case.values import HeldCapture
from app.model.capture_files import Apart, Unsure, files_of
from app.model.case_files import CaseFiles
from app.model.join_files import Parts, join_files, join_parts
from app.model.places import folder_for
from app.widgets.controls.forms import open_form
from tracecore.readers.settings import ReadSettings

if TYPE_CHECKING:
    from app.pages.captures import CapturesPage
    from app.shell.frame import Frame
    from app.widgets.forms.import_form import Files

CAPTURE_FILES = "Captures (*.csv *.txt *.vcd *.gz *.dat);;All files (*)"


class CaptureActions:
    """The actions on captures; those of the table, and those of a card's buttons."""

    def __init__(self, window: Frame) -> None:
        self.window = window
        self.session = window.session
        self.files: CaseFiles = window.files
        # lives as long as a look at a file out of the case may need it
        self._taken_out: TemporaryDirectory[str] | None = None

    def ask(self, unsure: Unsure) -> None:
        """Shows a file that cannot be taken as it is; nothing is taken where the form is left."""
        from app.widgets.forms.import_form import Files

        met = (unsure.wishes.get(unsure.path, ReadSettings()), unsure.error)
        self._look(Files(unsure.paths, unsure.side, dict(unsure.wishes), {unsure.path: met}, unsure.instead))

    def ask_apart(self, apart: Apart) -> None:
        """Shows files of one side that hold no signal in common: are they parts of one run?"""
        from app.widgets.forms.import_form import Files

        self._look(Files(apart.paths, apart.side, dict(apart.wishes)))

    def ask_parts(self, parts: Parts) -> None:
        """Asks how files of one run are put on one time."""
        from app.widgets.forms.parts_form import PartsForm

        form = PartsForm(parts, self.window)
        form.wanted.connect(lambda how: join_parts(self.files, parts, how))
        open_form(form)

    def _look(self, files: Files) -> None:
        from app.widgets.forms.import_form import ImportForm

        context = self.window.context
        form = ImportForm(files, self.window.jobs, self.window.settings, context.theme, context.scale, self.window)
        form.taken.connect(
            lambda side, paths, wishes, how: self.files.open_captures(
                side, paths, wishes, instead=files.instead, joined_by=how
            )
        )
        form.rejected.connect(self.files.forget_half)
        open_form(form)

    def actions(self) -> dict[str, Callable[[], None]]:
        """Each action of the table that is done here."""
        return {
            "open_good": self.do_open_good,
            "open_suspect": self.do_open_suspect,
            "open_good_folder": self.do_open_good_folder,
            "open_suspect_folder": self.do_open_suspect_folder,
            "look_first": self.do_look_first,
            "look_capture": self.do_look_capture,
            "replace_capture": self.do_replace_capture,
            "join_capture": self.do_join_capture,
        }

    # ---- adding

    def _start(self) -> str:
        """Where captures are looked for first: beside those that are there, else where files go."""
        there = [Path(held.path).parent for held in self.session.case.captures]
        return str(next((folder for folder in there if folder.is_dir()), folder_for(self.session.store)))

    def ask_captures(self, side: Side) -> None:
        """Asks for captures of a side."""
        title = f"Add {SIDE_WORDS[side].lower()} captures"
        paths, _ = QFileDialog.getOpenFileNames(self.window, title, self._start(), CAPTURE_FILES)
        self.files.open_files(side, paths)

    def do_open_good(self) -> None:
        """Asks for known-good captures."""
        self.ask_captures("good")

    def do_open_suspect(self) -> None:
        """Asks for suspect captures."""
        self.ask_captures("suspect")

    def _ask_folder(self, side: Side) -> None:
        folder = QFileDialog.getExistingDirectory(
            self.window, f"Folder of {SIDE_WORDS[side].lower()} captures", self._start()
        )
        if folder:
            self.files.open_files(side, files_of([Path(folder)]))

    def do_open_good_folder(self) -> None:
        """Asks for a folder of known-good captures."""
        self._ask_folder("good")

    def do_open_suspect_folder(self) -> None:
        """Asks for a folder of suspect captures."""
        self._ask_folder("suspect")

    def do_look_first(self) -> None:
        """Asks for files and shows what they will be taken for before they are."""
        paths, _ = QFileDialog.getOpenFileNames(self.window, "Look into captures first", self._start(), CAPTURE_FILES)
        if paths:
            self.look_into([Path(p) for p in paths])

    def look_into(self, paths: Sequence[Path]) -> None:
        """Shows what files will be taken for; they go to the side that waits for one."""
        from app.widgets.forms.import_form import Files

        side: Side = "suspect" if self.session.case.good.captures else "good"
        self._look(Files(tuple(paths), side))

    # ---- the capture of an open card

    def _asked(self) -> tuple[Side, int, HeldCapture]:
        page: CapturesPage = self.window.pages["captures"]  # type: ignore[assignment]
        side, index = page.asked
        return side, index, self.session.case.side(side).captures[index]

    def do_look_capture(self) -> None:
        """Shows how a capture's file is read, and reads it in another way where that is wanted."""
        from app.widgets.forms.import_form import Files

        side, index, held = self._asked()
        path = Path(held.path)
        if path.is_file():
            self._look(Files((path,), side, {path: read_settings_of(held)}, instead=index))
        elif self.session.store.has_blob(held.sha256):
            self._take_out(side, index, held)
        else:
            self.window.trouble(f"{held.name}: its file {path} is not there. Bring it back to see how it is read.")

    def _take_out(self, side: Side, index: int, held: HeldCapture) -> None:
        """The file as it lies in the case, for a look, where its own place has none."""
        from app.widgets.forms.import_form import Files

        self._taken_out = TemporaryDirectory(prefix="twinslot-look-")
        path = Path(self._taken_out.name) / Path(held.path).name
        shelf = self.session.shelf

        def work(tell: Callable[[float, str], None]) -> None:
            tell(0.0, f"taking {held.name} out of the case")
            shelf.write_out(held, path)

        def answer(_: None) -> None:
            self._look(Files((path,), side, {path: read_settings_of(held)}, instead=index))

        self.window.jobs.request("read", work, answer, self.window.trouble)

    def do_replace_capture(self) -> None:
        """Asks for a file that takes the place of a capture."""
        side, index, held = self._asked()
        path, _ = QFileDialog.getOpenFileName(
            self.window, f"Another file for {held.name}", self._start(), CAPTURE_FILES
        )
        if path:
            self.files.open_captures(side, [path], instead=index)

    def do_join_capture(self) -> None:
        """Asks for another file of the same run, and joins both."""
        side, index, held = self._asked()
        path, _ = QFileDialog.getOpenFileName(self.window, f"Same run as {held.name}", self._start(), CAPTURE_FILES)
        if path:
            join_files(self.files, side, index, Path(path))

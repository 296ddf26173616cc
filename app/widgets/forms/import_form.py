"""A look into files before they are taken: raw lines on top, what they are taken for below, changed live."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import (
    QButtonGroup,
    QCheckBox,
    QFrame,
    QHBoxLayout,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QRadioButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.case.record import SIDE_WORDS, SIDES, Side
from app.model.import_memory import proposed, remember
from app.model.import_preview import Preview, preview
from app.model.jobs import Jobs
from app.model.settings import Settings
from app.model.theme import Theme
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.forms import AskingForm, fit
from app.widgets.controls.label import label
from app.widgets.controls.tip import set_tip
from app.widgets.forms.belonging import Belonging
from app.widgets.forms.import_choices import ImportChoices
from app.widgets.forms.import_columns import ColumnTable
from app.widgets.forms.raw_lines import RawLines
from tracecore.errors import CaptureFileError
from tracecore.readers.settings import ReadSettings

WAIT_MS = 150
"""Typing may go on for so long before the file is looked at again."""


@dataclass(slots=True)
class Files:
    """What the form is about. ``errors`` is what reading a whole file met, with the wish it was read with."""

    paths: tuple[Path, ...]
    side: Side
    wishes: dict[Path, ReadSettings] = field(default_factory=dict)
    errors: dict[Path, tuple[ReadSettings, CaptureFileError]] = field(default_factory=dict)
    instead: int | None = None


class ImportForm(AskingForm):
    """``taken`` carries the side, the files that stay ticked, what was said of each, and how they belong together
    (``Belonging.how``). Left, it takes nothing."""

    taken = Signal(str, object, object, str)

    def __init__(
        self, files: Files, jobs: Jobs, settings: Settings, theme: Theme, scale: float, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._files, self._jobs, self._settings = files, jobs, settings
        self.previews: dict[Path, Preview] = {}
        self.proposals: set[Path] = set()
        self.wishes = {path: files.wishes.get(path, ReadSettings()) for path in files.paths}
        self.current = next(iter(files.errors), files.paths[0])
        self.setWindowTitle("Look into the file" if len(files.paths) == 1 else "Look into the files")
        self._build(theme, scale)
        self._soon = QTimer(self, singleShot=True, interval=WAIT_MS)
        self._soon.timeout.connect(self.look)
        self.look()

    def written_in(self) -> QWidget:
        return self.choices

    # ---- the parts

    def _style(self, theme: Theme, scale: float) -> str:
        """The chosen file by tint and edge."""
        return (
            f"QListView::item {{ padding: {round(3 * scale)}px; }}"
            f"QListView::item:selected {{ background: {theme.tint}; color: {theme.ink};"
            f" border: 2px solid {theme.ink}; }}"
            f"QListView::item:!selected {{ border: 2px solid {theme.panel}; border-bottom: 2px solid {theme.rule}; }}"
        )

    def _build(self, theme: Theme, scale: float) -> None:
        self.setStyleSheet(self._style(theme, scale))
        outer = QVBoxLayout(self)
        outer.setContentsMargins(18, 12, 18, 12)
        outer.setSpacing(8)
        across = QHBoxLayout()
        across.setSpacing(14)
        self.list = QListWidget()
        self.list.setAccessibleName("Files")
        self.list.setFixedWidth(round(230 * scale))
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        for path in self._files.paths:
            item = QListWidgetItem(path.name)
            item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
            item.setCheckState(Qt.CheckState.Checked)
            set_tip(item, str(path))
            self.list.addItem(item)
        self.list.setVisible(len(self._files.paths) > 1)
        self.list.setCurrentRow(self._files.paths.index(self.current))
        self.list.currentRowChanged.connect(self._choose)
        self.list.itemChanged.connect(lambda _: self._judge())
        across.addWidget(self.list)
        # where large text leaves no room the parts scroll; the buttons stay in sight
        around = QScrollArea()
        around.setWidgetResizable(True)
        around.setFrameShape(QFrame.Shape.NoFrame)
        around.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        around.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        parts = QWidget()
        parts.setObjectName("columnBody")
        down = QVBoxLayout(parts)
        down.setContentsMargins(0, 0, 4, 0)
        down.setSpacing(8)
        around.setWidget(parts)
        self.title = ElidedLabel(self.current.name, "strong")
        down.addWidget(self.title)
        self.raw = RawLines(theme, scale)
        down.addWidget(self.raw, 3)
        # above the choices, so that it stays in sight while they are made
        self.sentence = label("", "plain")
        down.addWidget(self.sentence)
        self.choices = ImportChoices()
        self.choices.changed.connect(self._said)
        self.choices.refused.connect(self._refuse)
        down.addWidget(self.choices)
        self.alike = QCheckBox("The same for all files of this shape")
        self.alike.setChecked(True)
        self.alike.setVisible(len(self._files.paths) > 1)
        down.addWidget(self.alike)
        self.table = ColumnTable(theme, scale)
        self.table.said.connect(self._said_columns)
        self.table.refused.connect(self._refuse)
        down.addWidget(self.table, 4)
        across.addWidget(around, 1)
        outer.addLayout(across, 1)
        self.belonging = Belonging()
        self.belonging.setVisible(len(self._files.paths) > 1 and self._files.instead is None)
        self.belonging.changed.connect(self._judge)
        outer.addWidget(self.belonging)
        outer.addLayout(self._foot())
        fit(self, round(1080 * scale), round(680 * scale))

    def _foot(self) -> QHBoxLayout:
        foot = QHBoxLayout()
        foot.setSpacing(10)
        self.sides = QButtonGroup(self)
        if self._files.instead is None:
            foot.addWidget(label("They are" if len(self._files.paths) > 1 else "It is", "muted", wrap=False))
            for number, side in enumerate(SIDES):
                button = QRadioButton(SIDE_WORDS[side].lower())
                button.setChecked(side == self._files.side)
                self.sides.addButton(button, number)
                foot.addWidget(button)
        foot.addStretch(1)
        self.leave = QPushButton("Cancel")
        self.leave.setToolTip("Nothing is taken")
        self.leave.clicked.connect(self.reject)
        self.take = QPushButton("Take them" if len(self._files.paths) > 1 else "Take it")
        self.take.setProperty("role", "decision")
        # Enter in a field must not press the first button, which leaves
        self.leave.setAutoDefault(False)
        self.take.setDefault(True)
        self.take.setEnabled(False)
        self.take.clicked.connect(self.accept)
        foot.addWidget(self.take)
        foot.addWidget(self.leave)
        return foot

    # ---- looking

    def look(self) -> None:
        """Looks at the files whose wish is not the one that their preview was made with, the shown one first."""
        path = next((p for p in (self.current, *self._files.paths) if self._is_stale(p)), None)
        if path is None:
            self._judge()
            return
        wish, error = self.wishes[path], self._files.errors.get(path)
        met = error[1] if error is not None and error[0] == wish else None
        offers = path not in self.previews and wish == ReadSettings()

        def work(tell: Callable[[float, str], None]) -> tuple[Preview, bool]:
            tell(0.0, f"looking into {path.name}")
            seen = preview(path, wish, met)
            offered = self._proposal(seen) if offers and not seen.ready else None
            return offered or seen, offered is not None

        self._jobs.request("look", work, lambda found: self._seen(path, *found), self._refuse)

    def _is_stale(self, path: Path) -> bool:
        return path not in self.previews or self.previews[path].wish != self.wishes[path]

    def _proposal(self, seen: Preview) -> Preview | None:
        """What was said of the last file of this shape, where it makes this one readable."""
        wish = proposed(self._settings, seen.shape)
        tried = preview(seen.path, wish) if wish is not None else None
        return tried if tried is not None and tried.ready else None

    def _seen(self, path: Path, seen: Preview, offered: bool) -> None:
        first = path not in self.previews
        if offered:
            self.wishes[path] = seen.wish
            self.proposals.add(path)
        self.previews[path] = seen
        # a folder holds more than captures: what no reader knows is left out, and can be ticked again
        if first and len(self._files.paths) > 1 and not seen.ready and not seen.layouts:
            self._item(path).setCheckState(Qt.CheckState.Unchecked)
        if path == self.current:
            self._show(refill=first)
        self.look()

    def _item(self, path: Path) -> QListWidgetItem:
        item = self.list.item(self._files.paths.index(path))
        assert item is not None
        return item

    def _choose(self, row: int) -> None:
        self.current = self._files.paths[row]
        self._show(refill=True)

    def _said(self, wish: ReadSettings) -> None:
        """A choice was changed: for this file, and where it is wanted for the others of its shape."""
        shape = self.previews[self.current].shape if self.current in self.previews else ""
        wish = replace(wish, columns=self.table.choices)
        self.wishes[self.current] = wish
        self.proposals.discard(self.current)
        for path, seen in self.previews.items():
            if self.alike.isChecked() and shape and seen.shape == shape:
                self.wishes[path] = wish
        self.take.setEnabled(False)
        self._soon.start()

    def _said_columns(self) -> None:
        """What a column is was changed."""
        try:
            self._said(self.choices.wish())
        except ValueError as error:
            self._refuse(str(error))

    def _refuse(self, sentence: str) -> None:
        self._say(sentence, False)
        self.take.setEnabled(False)

    # ---- showing

    def _show(self, *, refill: bool) -> None:
        seen = self.previews.get(self.current)
        self.title.setText(str(self.current))
        if seen is not None:
            self.raw.show_preview(seen)
            self.choices.show_preview(seen, refill=refill)
            if refill:
                self.choices.go_to(seen.lacks)
            again = "As the last file of this shape was read. " if self.current in self.proposals else ""
            self._say(
                again + seen.sentence.removeprefix(f"{self.current}, ").removeprefix(f"{self.current}: "), seen.ready
            )
            # without columns or channels the raw lines have the room
            self.table.setVisible(bool(seen.columns or seen.channels))
            self.table.show_preview(seen)
            if refill:
                self.take_as_begun()
        self._judge()

    def _say(self, sentence: str, fine: bool) -> None:
        self.sentence.setText(sentence[:1].upper() + sentence[1:])
        self.sentence.setObjectName("plain" if fine else "warning")
        self.sentence.style().polish(self.sentence)

    def ticked(self) -> tuple[Path, ...]:
        """The files that are to be taken."""
        if len(self._files.paths) == 1:
            return self._files.paths
        return tuple(p for p in self._files.paths if self._item(p).checkState() == Qt.CheckState.Checked)

    def _judge(self) -> None:
        """Marks each file in the list, and lets them be taken where every ticked one is ready."""
        self.list.blockSignals(True)
        for path, seen in self.previews.items():
            state = "fits" if seen.ready else (f"lacks its {seen.lacks}" if seen.lacks else "cannot be taken")
            self._item(path).setText(f"{'✓' if seen.ready else '▲'} {path.name}\n     {state}")
        self.list.blockSignals(False)
        ticked = self.ticked()
        ready = all(p in self.previews and self.previews[p].ready for p in ticked)
        self.belonging.offer([self.previews[p] for p in ticked if p in self.previews])
        self.belonging.setEnabled(len(ticked) > 1)
        told = len(ticked) < 2 or self.belonging.how is not None
        self.take.setEnabled(bool(ticked) and ready and told and not any(self._is_stale(p) for p in ticked))

    def accept(self) -> None:
        """Takes the ticked files; what was said of them serves others of their shape."""
        ticked = self.ticked()
        for path in ticked:
            if self.wishes[path] != ReadSettings():
                remember(self._settings, self.previews[path].shape, self.wishes[path])
        self._settings.save()
        side = SIDES[self.sides.checkedId()] if self._files.instead is None else self._files.side
        super().accept()
        how = self.belonging.how if len(ticked) > 1 else ""
        wishes = {p: self.wishes[p] for p in ticked if self.wishes[p] != ReadSettings()}
        self.taken.emit(side, ticked, wishes, how or "")

    def done(self, result: int) -> None:
        """Closed either way: what is still being looked at is of no use."""
        self._soon.stop()
        self._jobs.stop("look")
        super().done(result)

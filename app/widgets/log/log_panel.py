"""The right panel of the Log: state of the case, proof after repair, earlier cases alike, what goes out."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLineEdit, QPushButton, QScrollArea, QVBoxLayout, QWidget

from app.case.dates import signed_words
from app.case.proof_words import proof_sentence, standing_proof
from app.case.record import OpenCase
from app.case.seen_before import Hits, Seen
from app.model.actions import ACTIONS
from app.model.theme import Theme
from app.widgets.controls.label import label
from app.widgets.controls.side_panel import SidePanel
from app.widgets.controls.tip import set_tip
from app.widgets.log.log_shape import ShapeMark
from app.widgets.log.seen_card import CaseCard, HitCard, SeenCard
from app.widgets.log.state_boxes import StateBoxes

MOST_CARDS = 5


class LogPanel(SidePanel):
    """``asked`` carries an action's name, ``state_wanted`` a state, ``case_wanted`` a path, ``unlike_wanted`` an
    identity, ``searched`` the words to look for."""

    asked = Signal(str)
    state_wanted = Signal(str)
    case_wanted = Signal(object)
    unlike_wanted = Signal(str)
    searched = Signal(str)

    def __init__(self, theme: Theme) -> None:
        super().__init__("State of the case", "Ticked with date and initials", theme)
        self._look = (theme, 1.0)
        self.cards: list[CaseCard] = []
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        body = QWidget()
        body.setObjectName("causeBody")
        down = QVBoxLayout(body)
        down.setContentsMargins(0, 0, 8, 0)
        down.setSpacing(12)
        self.states = StateBoxes(theme)
        self.states.wanted.connect(self.state_wanted)
        down.addWidget(self.states)
        self.proof = _card()
        down.addWidget(self.proof)
        self.seen_box = QVBoxLayout()
        self._seen(down)
        down.addStretch(1)
        scroll.setWidget(body)
        self.body.addWidget(scroll, 1)
        self.body.addLayout(self._report())

    def _seen(self, down: QVBoxLayout) -> None:
        head = QVBoxLayout()
        head.setSpacing(3)
        row = QHBoxLayout()
        row.addWidget(label("Seen before", "heading", wrap=False), 1)
        row.addWidget(self._button("cases_folder", "Folder…"))
        head.addLayout(row)
        self.looked = label("", "muted")
        head.addWidget(self.looked)
        self.search = QLineEdit()
        self.search.setAccessibleName("Search earlier cases")
        self.search.setPlaceholderText("Search: words, part, slot")
        self.search.setClearButtonEnabled(True)
        self.search.returnPressed.connect(lambda: self.searched.emit(self.search.text().strip()))
        self.search.textChanged.connect(lambda text: None if text else self.searched.emit(""))
        head.addWidget(self.search)
        down.addLayout(head)
        self.seen_box.setSpacing(8)
        down.addLayout(self.seen_box)

    def _report(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setContentsMargins(0, 0, 22, 0)
        row.setSpacing(8)
        self.report = self._button("write_report", "Report")
        self.report.setProperty("role", "decision")
        row.addWidget(self.report)
        if any(known.name == "bench_card" for known in ACTIONS):
            row.addWidget(self._button("bench_card", "Bench card"))
        return row

    def _button(self, name: str, text: str) -> QPushButton:
        button = QPushButton(text)
        button.setProperty("small", name == "cases_folder")
        hint = next((known.hint for known in ACTIONS if known.name == name), "")
        set_tip(button, hint)
        button.clicked.connect(lambda: self.asked.emit(name))
        return button

    # ---- what it shows

    def set_scale(self, theme: Theme, scale: float) -> None:
        super().set_scale(theme, scale)
        self._look = (theme, scale)
        if hasattr(self, "states"):
            self.states.set_theme(theme)

    def show_case(self, case: OpenCase, reportable: bool) -> None:
        """State and proof of the case."""
        self.states.show_case(case)
        self.report.setEnabled(reportable)
        layout = self.proof.layout()
        assert isinstance(layout, QVBoxLayout)
        _clear(layout)
        entry = standing_proof(case)
        head = QHBoxLayout()
        if entry is not None:
            head.addWidget(ShapeMark("tick" if entry.helped else "cross", self._look[0]))
        head.addWidget(label("Proof after repair", "strong", wrap=False), 1)
        add = self._button("add_proof", "Proof…")
        add.setProperty("small", True)
        head.addWidget(add)
        layout.addLayout(head)
        if entry is None or entry.proof is None:
            layout.addWidget(label("No proof line yet: how many captures after the repair diverge?", "muted"))
            return
        layout.addWidget(label(proof_sentence(entry.proof)))
        facts = (entry.proof.note, signed_words(entry.at, entry.author, year=False))
        layout.addWidget(label(" · ".join(fact for fact in facts if fact), "muted"))

    def show_seen(self, seen: Seen, where: str) -> None:
        """Cases alike, most alike first."""
        self._show_cards([self._seen_card(case) for case in seen.cases[:MOST_CARDS]])
        self._tell(seen.looked, seen.skipped, where, "" if seen.cases or not seen.looked else " None is alike.")

    def show_hits(self, hits: Hits, where: str) -> None:
        """What a search found."""
        self._show_cards([HitCard(hit) for hit in hits.hits[:MOST_CARDS]])
        found = f" {len(hits.hits)} found" + (
            "." if len(hits.hits) <= MOST_CARDS else f"; the first {MOST_CARDS} shown."
        )
        self._tell(hits.looked, hits.skipped, where, found)

    def show_no_folder(self) -> None:
        """There is no folder to look into."""
        self._show_cards([])
        self.looked.setText("Keep the case in a folder of cases, or choose one: earlier cases alike are shown here.")
        set_tip(self.looked, "")

    def _seen_card(self, case: object) -> SeenCard:
        card = SeenCard(case, self._look[0])  # type: ignore[arg-type]
        card.unlike_wanted.connect(self.unlike_wanted)
        return card

    def _show_cards(self, cards: list[SeenCard] | list[HitCard]) -> None:
        _clear(self.seen_box)
        self.cards = [*cards]
        for card in self.cards:
            card.open_wanted.connect(self.case_wanted)
            self.seen_box.addWidget(card)

    def _tell(self, looked: int, skipped: tuple[str, ...], where: str, end: str) -> None:
        words = f"{looked} other case{'' if looked == 1 else 's'} in {where}."
        if skipped:
            words += f" {len(skipped)} could not be read whole."
        self.looked.setText(words + end)
        set_tip(self.looked, "\n".join(skipped))


def _card() -> QFrame:
    card = QFrame()
    card.setObjectName("card")
    inside = QVBoxLayout(card)
    inside.setContentsMargins(12, 9, 12, 9)
    inside.setSpacing(5)
    return card


def _clear(layout: QVBoxLayout | QHBoxLayout) -> None:
    while (item := layout.takeAt(0)) is not None:
        inner, widget = item.layout(), item.widget()
        if widget is not None:
            # a button in it may be the one that was just pressed
            widget.hide()
            widget.deleteLater()
        elif isinstance(inner, (QVBoxLayout, QHBoxLayout)):
            _clear(inner)


def folder_words(folders: list[Path]) -> str:
    """Folders by their names.

    >>> folder_words([Path("/bench/cases")])
    'cases'
    """
    return " and ".join(folder.name or str(folder) for folder in folders)

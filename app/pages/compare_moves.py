"""What the Compare page does on keys and menus with the traces: going, zooming, cursors, rows, words."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPoint
from PySide6.QtGui import QGuiApplication

from app.case.changes import ArrangeRows
from app.case.values import RowName, ShownRows
from app.model.go_to import Place, outside
from app.model.row_order import all_rows, buses_first, by_bus, moved
from app.model.seen_captures import show_seen
from app.widgets.causes.cause_cards import finding_text
from app.widgets.controls.action_menu import action_menu
from app.widgets.controls.forms import open_form
from tracecore.lineup.time_map import TimeMap

if TYPE_CHECKING:
    from app.pages.compare import ComparePage
    from app.widgets.traces.cursor_pair import Cursor
    from app.widgets.traces.words import Base

ROW_MENU = (
    "show_cycle",
    "next_divergence",
    "mark",
    "",
    "row_up",
    "row_down",
    "hide_row",
    "show_rows",
    "",
    "write_in_log",
)
"""Under the right button in the table of all signals."""
NAME_MENU = ("row_up", "row_down", "hide_row", "show_rows", "", "buses_first", "rows_by_bus", "rows_as_compared")
PLOT_MENU = (
    "mark", "show_cycle", "go_to", "", "zoom_cursors", "fit", "cursors_away", "", "copy_picture", "print_page",
)  # fmt: skip


class CompareMoves:
    """``words`` is how buses read: "oct", "hex" or "bin"."""

    def __init__(self, page: ComparePage) -> None:
        self.page, self.session, self.traces = page, page.context.session, page.traces
        self.words: Base = "oct"

    def actions(self) -> dict[str, Callable[[], None]]:
        """Each action of the table that is done here."""
        traces = self.traces
        return {
            "go_to": self.do_go_to,
            "show_cycle": self.do_show_cycle,
            "show_seen": lambda: self.page.said.emit(show_seen(self.session)),
            "copy_finding": self.do_copy_finding,
            "fit": traces.fit,
            "zoom_in": partial(traces.zoom, 2.0),
            "zoom_out": partial(traces.zoom, 0.5),
            "zoom_cursors": self.do_zoom_cursors,
            "pan_left": partial(traces.pan, -0.2),
            "pan_right": partial(traces.pan, 0.2),
            "cursor_a": partial(traces.place_cursor, 0),
            "cursor_b": partial(traces.place_cursor, 1),
            "cursors_away": traces.take_cursors_away,
            "cursor_earlier": partial(traces.nudge_cursor, False),
            "cursor_later": partial(traces.nudge_cursor, True),
            "cursor_to_previous": partial(traces.step_cursor, False),
            "cursor_to_next": partial(traces.step_cursor, True),
            "row_up": partial(self._move_row, -1),
            "row_down": partial(self._move_row, 1),
            "hide_row": self.do_hide_row,
            "show_rows": self.do_show_rows,
            "buses_first": self.do_buses_first,
            "rows_by_bus": self.do_rows_by_bus,
            "rows_as_compared": partial(self._arrange, ShownRows()),
            "words_octal": partial(self._set_words, "oct"),
            "words_hex": partial(self._set_words, "hex"),
            "words_binary": partial(self._set_words, "bin"),
        }

    def open_menu(self, place: Cursor | None, at: QPoint) -> None:
        """The menu over the names, or over a place of the plot, where a cursor can be put."""
        menu = action_menu(self.page, NAME_MENU if place is None else PLOT_MENU, self.page.context.act)
        if place is not None:
            first = menu.actions()[0]
            for which, words in ((0, "Cursor A here"), (1, "Cursor B here")):
                made = menu.addAction(words)
                made.triggered.connect(lambda _on=False, which=which: self.traces.set_cursor(which, place))
                menu.insertAction(first, made)
        menu.popup(at)

    # ---- going

    def do_go_to(self) -> None:
        """Asks for a cycle or a time, and shows it."""
        from app.widgets.forms.go_to_form import GoToForm

        if self.session.comparison is None:
            self.page.said.emit("Nothing is compared yet, so there is nothing to go to")
            return
        form = GoToForm(self.page)
        form.wanted.connect(self.go)
        open_form(form)

    def go(self, place: Place) -> None:
        """Shows a place; a cycle is chosen, a time gets cursor A."""
        comparison = self.session.comparison
        if comparison is None:
            return
        lineup = comparison.lineup
        if place.cycle is None:
            at_ps = place.time_ps or 0
            if place.side == "suspect" and lineup:
                at_ps = int(TimeMap(lineup).to_good_ps(np.array([at_ps], np.int64))[0])
            first, last = self.traces.axis.span
            self.traces.set_cursor(0, min(max(at_ps, first), last))
            self.traces.centre_on(at_ps)
            return
        cycle: int | None = place.cycle
        if place.side == "suspect":
            runs = (r for r in lineup.runs if r.suspect_start <= place.cycle < r.suspect_start + r.length)
            run = next(runs, None)
            cycle = None if run is None else place.cycle - run.suspect_start + run.good_start
            if cycle is None:
                self.page.said.emit(f"Suspect cycle {place.cycle} has no partner on the known-good side")
                return
        cycles = len(lineup.good_edges_ps) - 1
        if cycle is None or not 0 <= cycle < cycles:
            self.page.said.emit(outside(place.cycle, max(1, cycles)))
            return
        self.session.choose(signal=self.session.chosen.signal, cycle=cycle)
        self.traces.show_cycle(cycle)

    def do_show_cycle(self) -> None:
        """Shows the cycle at which the finding begins, in the capture in which it was seen."""
        cause = self.session.cause(self.session.chosen.cause)
        if cause is not None and cause.capture:
            # at that cycle the shown capture is sound
            self.page.said.emit(show_seen(self.session))
        elif cause is not None and cause.since_cycle is not None:
            self.session.choose(cause=cause.rank)
            self.traces.show_cycle(cause.since_cycle)

    def do_zoom_cursors(self) -> None:
        """Shows what lies between the cursors."""
        if not self.traces.show_between_cursors():
            self.page.said.emit("Place both cursors first: [ and ], or a click and Shift with a click")

    def do_copy_finding(self) -> None:
        """Puts the finding's text on the clipboard."""
        cause = self.session.cause(self.session.chosen.cause)
        if cause is None or self.session.comparison is None:
            self.page.said.emit("No finding to copy")
            return
        QGuiApplication.clipboard().setText(finding_text(self.session.comparison, cause))
        self.page.said.emit(f"The finding on {cause.signal} is on the clipboard")

    # ---- rows

    def _arrange(self, rows: ShownRows) -> None:
        self.session.change(ArrangeRows(rows))

    def _row(self) -> RowName | None:
        signal = self.session.chosen.signal
        if signal is None:
            self.page.said.emit("Choose a signal first: a click on its name, or the arrows up and down")
            return None
        return RowName("signal", signal)

    def _move_row(self, step: int) -> None:
        row = self._row()
        if row is not None:
            self._arrange(moved(all_rows(self.session.comparison), self.session.case.rows, row, step))

    def do_hide_row(self) -> None:
        """Leaves the chosen signal's row out; the next one is chosen in its place."""
        row, kept = self._row(), self.session.case.rows
        names = self.traces.signals_shown()
        if row is None or row.name not in names:
            return
        if len(names) == 1:
            self.page.said.emit("One row stays")
            return
        at = names.index(row.name)
        beside = names[at + 1] if at + 1 < len(names) else names[at - 1]
        self.session.choose(signal=beside)
        hidden = tuple(dict.fromkeys((*kept.hidden, row)))
        self._arrange(ShownRows(kept.order, hidden))
        self.page.said.emit(f"{row.name} is hidden, {len(hidden)} in all. Rows, Show all rows brings them back")

    def do_show_rows(self) -> None:
        """Brings every hidden row back."""
        self._arrange(ShownRows(self.session.case.rows.order))

    def do_buses_first(self) -> None:
        """Buses above signals."""
        self._arrange(buses_first(all_rows(self.session.comparison), self.session.case.rows))

    def do_rows_by_bus(self) -> None:
        """Each bus above its bits."""
        if self.session.comparison is not None:
            self._arrange(by_bus(self.session.comparison, self.session.case.rows))

    def _set_words(self, base: Base) -> None:
        self.words = base
        self.traces.set_word_base(base)

"""What a person without a plan does to the window: no error, nothing left behind, on no screen and on a real one."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtWidgets import QApplication

from app.shell.window import Window
from app.widgets.causes.cause_cards import CauseCards
from tests.gui.random_driver import Rest, drive, furnished
from tests.gui.test_real_display import ROOT, display

__all__ = ["display"]
ACTIONS = max(150, int(os.environ.get("TWINSLOT_LONG_EXAMPLES", "5000")))
WARMED_UP = 2000
"""Only a run as long as this can show that nothing grows: what is imported when it is first needed comes before."""


def test_a_few_dozen_actions_in_any_order(qtbot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TWINSLOT_SETTINGS", str(tmp_path / "own"))
    folder = tmp_path / "files"
    folder.mkdir()
    furnished(folder)
    rests: list[Rest] = []
    journal = io.StringIO()
    errors = drive(1, 60, folder, journal, 60, rests.append)
    assert errors == [], journal.getvalue()[-2000:]
    assert rests[-1].actions == 60
    assert rests[-1].threads <= rests[0].threads


def driven(seed: int, folder: Path, **environment: str) -> list[str]:
    """The lines of a driver in a process of its own."""
    journal = folder / "journal"
    command = [
        sys.executable,
        "-X",
        "faulthandler",
        "-m",
        "tests.gui.random_driver",
        str(seed),
        str(ACTIONS),
        str(journal),
    ]
    env = {**os.environ, "PYTHONPATH": str(ROOT), **environment}
    done = subprocess.run(command, cwd=ROOT, env=env, capture_output=True, text=True, check=False)
    last = journal.read_text("utf-8")[-600:]
    assert done.returncode == 0, f"{done.stdout[-3000:]}\n{done.stderr[-3000:]}\n{last}"
    return done.stdout.splitlines()


def flat(lines: list[str]) -> bool:
    """Widgets at rest grow by less than a tenth in the second half of the run; memory by less than a quarter, since a
    library that is first needed then may take 50 MB at once. What one rest has and neither of the next two is no leak:
    that stays."""
    if ACTIONS < WARMED_UP:
        return True
    rests = [line.replace(",", "").split() for line in lines if " actions: " in line]
    memory, widgets = [float(rest[2]) for rest in rests], [int(rest[4]) for rest in rests]
    half = len(rests) // 2
    return lasting(widgets[half:]) <= 1.1 * max(widgets[:half]) and lasting(memory[half:]) <= 1.25 * max(memory[:half])


def lasting(figures: Sequence[float]) -> float:
    """The most that three rests in a row all have."""
    return max(min(figures[n : n + 3]) for n in range(len(figures) - 2))


@pytest.mark.parametrize(("last", "is_flat"), [((1353, 1195, 1230, 1200), True), ((1290, 1310, 1330, 1350), False)])
def test_what_goes_at_the_next_rest_is_no_leak(monkeypatch, last: tuple[int, ...], is_flat: bool) -> None:
    monkeypatch.setattr("tests.gui.test_random_driver.ACTIONS", 5000)
    widgets = (1100, 1150, 1170, 1165, *last)
    lines = [f"{n:6d} actions:  320.0 MB, {count:5d} widgets,  1 threads" for n, count in enumerate(widgets)]
    assert flat(lines) is is_flat


@pytest.mark.long
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_thousands_of_actions_leave_nothing_behind(tmp_path: Path, seed: int) -> None:
    assert flat(driven(seed, tmp_path))


@pytest.mark.long
@pytest.mark.xvfb
def test_thousands_of_actions_on_an_x_server(display: str, tmp_path: Path) -> None:
    assert flat(driven(4, tmp_path, DISPLAY=display, QT_QPA_PLATFORM="xcb"))


def test_a_card_outlives_the_press_that_builds_the_cards_anew(qtbot, compared: Window) -> None:
    """It was freed below its own handler, and what came next went to freed memory."""
    cards = compared.pages["compare"].cards
    assert isinstance(cards, CauseCards)
    card = cards.cards[-1]
    cards.wanted.connect(lambda rank: cards.show_causes(compared.session.comparison, rank))
    freed: list[str] = []
    card.destroyed.connect(lambda: freed.append("now"))
    qtbot.mousePress(card, Qt.MouseButton.LeftButton)
    assert card not in cards.cards
    assert freed == []
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    assert freed == ["now"]

"""Cases that somebody altered, opened in the window: every page is shown, and whatever is odd is a sentence."""

from __future__ import annotations

import os
import random
import sys
from pathlib import Path

import pytest

from app.shell.window import Window
from tests.case.crafted import Alteration, objects, sound_case, wrong_fields, wrong_values
from tests.gui.strange_case import Onlooker

MANY = int(os.environ.get("TWINSLOT_LONG_EXAMPLES", "1900"))
SEEN_TO_FAIL = ("sample_rate = '0'", "sheet : probes.0.slot = '0'")
"""Ended in what nobody foresaw: a rate of nothing, a slot before the first, which ended the process while painting."""


@pytest.mark.parametrize("some", [2, pytest.param(MANY, marks=pytest.mark.long)])
def test_an_altered_case_is_a_sentence_and_no_error(window: Window, tmp_path: Path, monkeypatch, some: int) -> None:
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)
    sound = sound_case(tmp_path / "sound.twinslot")
    made: list[Alteration] = [*wrong_values(), *wrong_fields(sound)]
    drawn = [next(a for a in made if seen in a.what) for seen in SEEN_TO_FAIL]
    drawn += random.Random(8).sample([*objects(), *made], min(some, len(made)))
    onlooker = Onlooker(window)
    for n, alteration in enumerate(drawn):
        path = alteration.made(sound, tmp_path / f"altered{n}.twinslot")
        assert onlooker.look(path) == [], alteration.what

"""A soak tells what agrees and yet is odd: captures that take other cycles, and signals that are steadily late."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from app.soak.soak import News, Soak
from tests.lineup.slipping import slipping_pair
from tests.plant import CLOCK, Fault
from tests.repeats.test_slips import PLANT
from tests.repeats.test_tolerance import PLANT as STEADY
from tests.repeats.test_tolerance import strayed
from tracecore.capture_series import SeriesRequest, read_against, reference
from tracecore.comparison import CompareRequest, compare
from tracecore.export import export_capture

WAITS = slipping_pair(PLANT, {330: 1, 900: 3}, {})
GOOD, SOUND = WAITS.good.capture(), PLANT.clean().suspect.capture()


@pytest.fixture(scope="module")
def waiting(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("landing") / "waits.vcd"
    export_capture(WAITS.suspect.capture(), path, "dump")
    return path


def taken(waiting: Path, *others: object) -> tuple[Soak, News]:
    soak = Soak(reference(SeriesRequest((GOOD, *others), clock=CLOCK)))  # type: ignore[arg-type]
    return soak, soak.take(waiting)


def test_slips_that_may_be_no_fault_are_told_and_agree(waiting: Path) -> None:
    soak, news = taken(waiting)
    assert (news.status, soak.count.diverges) == ("agrees", 0)
    assert news.words.startswith(
        "waits.vcd: agrees in every matched cycle, but waits 4 cycles more in 2 places; first at good cycle 330"
    )
    proof, slipping = soak.sentences
    assert proof.startswith("0 of 1 capture diverges")
    assert slipping.startswith("1 of 1 capture takes other cycles than the known-good one")


def test_slips_that_sound_machines_do_not_show_diverge(waiting: Path) -> None:
    soak, news = taken(waiting, SOUND)
    assert (news.status, soak.count.diverges, soak.table.proof().diverging) == ("diverges", 1, 1)
    assert news.words.startswith("waits.vcd: diverges by slips alone: it agrees in every matched cycle, but waits 4")
    verdict, slipping = soak.sentences
    assert verdict == "No signal diverges, but 1 capture slips."
    assert slipping.endswith("so do 0 of 1 other known-good capture.")


def test_a_signal_that_is_steadily_late_is_told_and_agrees(tmp_path: Path) -> None:
    good = tuple(STEADY.again(run).capture() for run in range(4))
    export_capture(strayed(STEADY.again(51), "D01", np.array([45_000])), tmp_path / "slow.vcd", "dump")
    soak = Soak(reference(SeriesRequest(good, clock=CLOCK)))
    news = soak.take(tmp_path / "slow.vcd")
    assert news.status == "agrees"
    assert news.words.startswith(("slow.vcd: agrees, but D01 rises 4", "slow.vcd: agrees, but D01 falls 4"))
    assert soak.sentences[1:] == ("Within tolerance but steadily late or early, of 1 capture: D01 in 1.",)


def test_what_a_condition_leaves_out_is_left_out_of_a_series_too() -> None:
    good, suspect = STEADY.again(0).capture(), STEADY.again(60, fault=Fault("stuck low", "D01", 100)).capture()
    shown = compare(CompareRequest((good,), (suspect,), clock=CLOCK, qualifier="READ == 1"))
    found = read_against(reference(SeriesRequest((good,), clock=CLOCK, qualifier="READ == 1")), suspect)
    assert found.outcome.cycles == shown.lineup.matched_cycles < 880
    wrong = shown.signal("D01").diverging_cycles
    assert found.reported["D01"].cycles.tolist() == wrong.tolist()

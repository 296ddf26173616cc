"""A soak tells which captures take other cycles than the known-good machine, and how many of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.soak.soak import News, Soak
from tests.compare.slipping import slipping_pair
from tests.compare.test_repeats_slips import PLANT
from tests.plant import CLOCK
from tracecore.capture_series import SeriesRequest, reference
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

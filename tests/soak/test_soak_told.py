"""A soak tells what agrees and yet is odd: captures that take other cycles, and signals that are steadily late."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from app.__main__ import main
from app.case.proof_words import lacks_for_verified
from app.case.store import CaseStore
from app.case.values import Proof
from app.soak.soak import News, Soak
from tests.lineup.slipping import slipping_pair
from tests.notices import recipes
from tests.plant import CLOCK, Fault
from tests.repeats.test_slips import PLANT
from tests.repeats.test_tolerance import PLANT as STEADY
from tests.repeats.test_tolerance import strayed
from tests.soak.small_captures import capture_text, put
from tracecore.capture_series import SeriesRequest, read_against, reference
from tracecore.comparison import CompareRequest, compare
from tracecore.export import export_capture
from tracecore.repeats.table import table_of

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
    soak, news = taken(waiting, WAITS.suspect.capture())
    assert (news.status, soak.count.diverges) == ("agrees", 0)
    assert news.words.startswith(
        "waits.vcd: agrees in every matched cycle, but waits 4 cycles more in 2 places; first at good cycle 330"
    )
    proof, slipping = soak.sentences
    assert proof.startswith("0 of 1 capture diverges")
    assert slipping.startswith("1 of 1 capture takes other cycles than the known-good one")


def test_slips_without_another_good_capture_prove_nothing(waiting: Path) -> None:
    soak, news = taken(waiting)
    assert (news.status, soak.count.agrees, soak.count.cannot_tell) == ("cannot tell", 0, 1)
    assert news.words.startswith("waits.vcd: cannot tell. Every matched cycle agrees, but the suspect waits 4 cycles")
    assert soak.sentences == (
        "No capture counts yet, so nothing is shown. Of 1 more it cannot be told, so it does not count.",
    )


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


def test_what_compare_cannot_tell_a_watch_counts_as_no_proof(tmp_path: Path) -> None:
    """Slips without another known-good capture, leads swapped, a channel away, a small part: compare cannot tell."""
    lacking = recipes.without(recipes.SAME, "C")
    short = recipes.board(recipes.A[:, :100], "short")
    swapped = recipes.renamed(recipes.SAME, {"A": "B", "B": "A"})
    pulses = recipes.pulses_on_c(range(50, 450))
    against = reference(SeriesRequest((recipes.GOOD,), clock="CK"))
    for capture in (recipes.SAME, lacking, short, swapped, pulses):
        alone = compare(CompareRequest((recipes.GOOD,), (capture,), clock="CK"))
        (own,) = alone.captures
        seen = read_against(against, capture).outcome
        assert seen.word == own.word == alone.outcome.word, (capture.name, alone.outcome)
        assert seen.word != "cannot tell" or seen.reason == own.reason
    assert table_of(read_against(against, c).outcome for c in (recipes.SAME, lacking, short)).proof().sentence == (
        "0 of 1 capture diverges; with 95 % confidence fewer than 95 % would. Of 2 more it cannot be told, so they do "
        "not count."
    )


def test_the_proof_in_the_log_says_what_cannot_be_told(tmp_path: Path) -> None:
    text = capture_text(3)
    good, landing = put(tmp_path, "good.csv", text), tmp_path / "landing"
    landing.mkdir()
    put(landing, "1.csv", "\n".join(capture_text(7).split("\n")[:90]) + "\n", 1)
    put(landing, "2.csv", capture_text(5), 2)
    case = str(tmp_path / "case.twinslot")
    assert main(["attach", case, str(good), "--new", "--side", "good", "--clock", "CLK"]) == 0
    words = ["soak", str(landing), "--case", case, "--settle", "0.02", "--captures", "1"]
    record = tmp_path / "record.csv"
    assert main([*words, "--out", str(record)]) == 2
    store = CaseStore.open(case, look_only=True)
    opened = store.read()
    (entry,) = opened.entries
    store.close()
    assert (entry.helped, entry.proof) == (None, Proof(0, 1, uncounted=1))
    assert entry.text.endswith("Of 1 more it cannot be told, so it does not count.")
    assert "Verified needs one in which all can be told." in lacks_for_verified(opened)
    with record.open(encoding="utf-8", newline="") as file:
        assert [row["status"] for row in csv.DictReader(file)] == ["cannot tell", "agrees"]

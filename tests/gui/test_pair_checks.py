"""The leads of captures that are not shown: judged on their first part where they are long, on all where it must be."""

from __future__ import annotations

import pytest

from app.model import pair_checks
from app.model.pair_checks import check_one, shortened
from tests.compare.test_pair_checkup import reclipped
from tests.plant import CLOCK, Plant
from tracecore.capture import Capture
from tracecore.comparison import CompareRequest, Comparison, compare

CYCLES = 1200


def compared(*suspects: Capture, good: Capture, sheet) -> Comparison:
    return compare(CompareRequest((good,), suspects, sheet, clock=CLOCK))


def quiet(_share: float, _what: str) -> None:
    """Nobody watches."""


@pytest.fixture
def short_part(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The first 200 cycles count as the first part; the lengths of what was compared, in good cycles."""
    lengths: list[int] = []

    def seen(request: CompareRequest, tell=None) -> Comparison:
        found = compare(request, tell)
        lengths.append(len(found.lineup.good_edges_ps))
        return found

    monkeypatch.setattr(pair_checks, "CYCLES_COMPARED", 200)
    monkeypatch.setattr("tracecore.comparison.compare", seen)
    return lengths


def test_the_first_part_of_a_long_capture_shows_swapped_leads(short_part: list[int]) -> None:
    pair = Plant(4, cycles=CYCLES, offset_cycles=7).clean()
    right = pair.suspect.capture()
    wrong = reclipped(right, {"D01": "D02", "D02": "D01"})
    comparison = compared(right, wrong, right, good=pair.good.capture(), sheet=pair.sheet)
    (line,) = [n for n in check_one(comparison, 1, quiet).lines if n.kind != "fine" and n.topic != "skew"]
    assert set(line.swap) == {"D01", "D02"}
    (fine,) = [n for n in check_one(comparison, 2, quiet).lines if n.topic == "leads"]
    assert fine.text.endswith("Looked at: the first 200 cycles.")
    assert [length < 250 for length in short_part] == [True, True]


def test_where_the_first_part_does_not_line_up_the_whole_is_looked_at(short_part: list[int]) -> None:
    # the suspect's capture begins 300 cycles later: its first part and the good one's have nothing in common
    pair = Plant(4, cycles=CYCLES, offset_cycles=300).clean()
    wrong = reclipped(pair.suspect.capture(), {"D01": "D02", "D02": "D01"})
    comparison = compared(pair.suspect.capture(), wrong, good=pair.good.capture(), sheet=pair.sheet)
    check = check_one(comparison, 1, quiet)
    assert {s for n in check.lines if n.swap for s in n.swap} == {"D01", "D02"}
    assert short_part[-1] > CYCLES - 5
    assert not any("Looked at" in line.text for line in check.lines)


def test_a_shortened_capture_is_the_same_as_far_as_it_goes() -> None:
    side = Plant(4, cycles=300).clean().good
    for whole in (side.capture(), side.capture_in_volts()):
        length_ps = (whole.stop_ps - whole.start_ps) // 3
        part = shortened(whole, length_ps)
        assert part.channels == whole.channels
        assert abs(part.stop_ps - whole.start_ps - length_ps) <= whole.resolution_ps
        for name, trace in part.digital.items():
            at = whole.digital[name].times_ps
            assert trace.times_ps.tolist() == at[at < whole.start_ps + length_ps].tolist()
        for name, volts in part.analog.items():
            assert volts.volts.tolist() == whole.analog[name].volts[: len(volts.volts)].tolist()
        assert shortened(whole, 2 * whole.stop_ps) is whole

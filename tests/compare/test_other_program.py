"""Two boards that run different programs: that may be so is said, since a fault behind the reset looks alike."""

from __future__ import annotations

from tests.machine.bench import draw, draw_unrelated
from tracecore.comparison import CompareRequest, Comparison, compare

SAID = "check that both run the same program"


def compared(pair: object) -> Comparison:
    return compare(CompareRequest((pair.good,), (pair.suspect,), clock=pair.clock))  # type: ignore[attr-defined]


def test_programs_that_share_a_reset_alone_are_said_to_be_perhaps_two() -> None:
    found = compared(draw_unrelated(60035, cycles=700))
    assert found.lineup.parts_for_good
    assert SAID in found.outcome.do


def test_a_fault_that_leaves_the_program_running_is_not_said_to_be_another_one() -> None:
    pair = draw(50053, "inverted", start="reset", cycles=700)
    assert pair is not None
    found = compared(pair)
    assert found.outcome.word == "diverges"
    assert SAID not in found.outcome.do

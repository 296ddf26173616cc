"""Two boards that run different programs: what cannot be told from a fault in the first steps is said so."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.machine.bench import MachinePair, draw, draw_unrelated
from tracecore.capture_series import SeriesRequest, read_against, reference
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.outcome import Reason

SAID = "heck that both run the same program"


def compared(pair: MachinePair, offset: int | None = None) -> Comparison:
    return compare(CompareRequest((pair.good,), (pair.suspect,), clock=pair.clock, offset=offset))


@pytest.mark.parametrize("seed", [72004, 72013, 72040])
def test_programs_that_share_a_start_alone_cannot_be_told_from_a_fault_at_once(seed: int) -> None:
    pair = draw_unrelated(seed, start="reset", cycles=700)
    found = compared(pair)
    assert found.lineup.parts_for_good
    assert (found.outcome.word, found.outcome.reason) == ("cannot tell", Reason.OTHER_PROGRAM)
    assert SAID in found.outcome.do
    assert f"offset {found.lineup.offset_cycles:+d} by hand" in found.outcome.do


def test_whoever_knows_that_the_program_is_the_same_sets_the_offset() -> None:
    pair = draw_unrelated(72004, start="reset", cycles=700)
    found = compared(pair)
    assert found.outcome.reason is Reason.OTHER_PROGRAM
    assert compared(pair, found.lineup.offset_cycles).outcome.word == "diverges"


def test_a_fault_that_leaves_the_program_running_is_not_said_to_be_another_one() -> None:
    pair = draw(50053, "inverted", start="reset", cycles=700)
    assert pair is not None
    found = compared(pair)
    assert found.outcome.word == "diverges"
    assert SAID not in found.outcome.do


def test_a_fault_that_shows_before_the_start_is_no_other_program() -> None:
    pair = draw(72029, "stuck high", start="reset", cycles=700)
    assert pair is not None
    found = compared(pair)
    assert found.lineup.parts_for_good
    assert found.outcome.word == "diverges"


def another_program(offset: int | None = None) -> Comparison:
    return compared(draw_unrelated(72004, start="reset", cycles=700), offset)


def test_no_cause_is_named_where_the_programs_may_be_two() -> None:
    found = another_program()
    assert any(own.verdict == "diverges" for own in found.signals)
    assert found.causes == ()
    assert another_program(found.lineup.offset_cycles).causes


def test_another_program_among_several_captures_does_not_count_as_a_fault() -> None:
    pair = draw_unrelated(72004, start="reset", cycles=700)
    twin = replace(pair.good, name="the same again", sha256="2" * 64)
    found = compare(CompareRequest((pair.good,), (twin, pair.suspect), clock=pair.clock, same_file=True))
    assert [own.word for own in found.captures] == ["agrees", "cannot tell"]
    assert "another program" in found.captures[1].reason
    assert found.outcome.word == "cannot tell"
    series = reference(SeriesRequest((pair.good,), clock=pair.clock))
    assert read_against(series, pair.suspect).outcome.word == "cannot tell"

"""What a capture beside the shown pair counts for."""

from __future__ import annotations

from tracecore.outcome import Outcome, Reason
from tracecore.repeats.other_captures import Varies, counted
from tracecore.repeats.table import CaptureOutcome

AGREES = CaptureOutcome("run 2", compared=frozenset("AB"), cycles=500)
DIVERGES = CaptureOutcome("run 2", frozenset("A"), "A", 17, frozenset("AB"), cycles=500)


def answer(reason: Reason, *signals: str) -> Outcome:
    return Outcome(reason, "So it is.", signals=signals)


def test_a_capture_agrees_only_where_the_answer_of_its_pair_does() -> None:
    assert counted(AGREES, answer(Reason.ALL_AGREE)) is AGREES
    found = counted(AGREES, answer(Reason.OTHER_PROGRAM))
    assert not found.counts
    assert found.reason == "So it is."


def test_what_the_whole_answer_finds_beyond_its_signals_counts() -> None:
    found = counted(AGREES, answer(Reason.SIGNALS, "C", "B"))
    assert (found.first, found.also_first, found.diverges) == ("C", frozenset("B"), frozenset("BC"))
    assert found.compared == frozenset("ABC")


def test_a_capture_that_diverges_counts_unless_it_runs_another_program() -> None:
    assert counted(DIVERGES, answer(Reason.SIGNALS, "A")) is DIVERGES
    assert not counted(DIVERGES, answer(Reason.OTHER_PROGRAM)).counts


def test_what_varies_is_seen_among_the_other_good_captures() -> None:
    varies = Varies(differ=({"A": 0.1}, {}, {"A": 0.2, "B": 0.1}))
    assert [varies.seen(signal, 0.2) for signal in "ABC"] == [(2, 3), (1, 3), (0, 3)]
    assert [varies.as_good(signal, 0.2) for signal in "ABC"] == [True, False, False]


def test_what_differs_far_more_often_than_on_a_known_good_capture_is_not_excused_by_it() -> None:
    varies = Varies(differ=({"A": 0.1}, {"A": 0.2}))
    assert varies.seen("A", 0.5) == (0, 2)
    assert not varies.as_good("A", 0.5)
    assert not Varies().as_good("A", 0.0)

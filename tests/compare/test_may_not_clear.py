"""What a person sets, or what the captures lack, may not clear a board: refused, or told as cannot tell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from app.__main__ import main
from app.cli.run import demo_request
from demo_traces import CASES
from tests.notices.recipes import FINER, GOOD, SAME, A, board, compared, pulses_on_c, still, with_pulses_on, with_trace
from tracecore.capture import Capture, DigitalTrace, digital_trace
from tracecore.capture_series import SeriesRequest, reference
from tracecore.circuit.parts.pin_traces import cut
from tracecore.circuit.probe_sheet import Probe, ProbeSheet
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.errors import RequestError
from tracecore.outcome import Reason

RECEIVER = CASES["receiver"]
CYCLE_PS = 250_000


# ---- the tolerance


def test_a_tolerance_longer_than_half_a_cycle_is_refused() -> None:
    stuck = board(np.concatenate((A[:3], np.zeros_like(A[3:4]), A[4:])), "south")
    assert compared(GOOD, stuck, tolerance_ps=CYCLE_PS // 2).outcome.word == "diverges"
    for tolerance in (CYCLE_PS // 2 + 1, CYCLE_PS, 10**9):
        with pytest.raises(RequestError, match="expected at most half a cycle of CK, 125 ns"):
            compared(GOOD, stuck, tolerance_ps=tolerance)
        with pytest.raises(RequestError, match="half a cycle"):
            reference(SeriesRequest((GOOD,), clock="CK", tolerance_ps=tolerance))


def test_no_tolerance_clears_the_stuck_line_of_the_demo(capsys: pytest.CaptureFixture[str]) -> None:
    files = ["--good", str(RECEIVER.good[0]), "--suspect", str(RECEIVER.suspect[0]), "--sheet", str(RECEIVER.sheet)]
    assert main(["compare", *files, "--tolerance", "500 us"]) == 2
    told = capsys.readouterr()
    assert "No divergence" not in told.out
    assert "expected at most half a cycle of MCLK" in told.err


# ---- what a condition leaves out


def refreshing(seed: int, *, every: int = 15, late_ps: int = 0, without: range = range(0)) -> Capture:
    """A board that takes two refresh cycles now and then, in which H is high and nothing else is to be compared."""
    rng = np.random.default_rng(seed)
    rows, number = [], 0
    quiet = A.copy()
    quiet[7] = 0
    for i, column in enumerate(quiet.T):
        rows.append(column)
        if i % every == seed % every:
            if number not in without:
                rows += [np.append(rng.integers(0, 2, 7), 1)] * 2
            number += 1
    own = board(np.array(rows, np.uint8).T, f"run {seed}")
    trace = own.digital["H"]
    return with_trace(own, "H", DigitalTrace(np.append(0, trace.times_ps[1:] + late_ps), trace.levels, trace.stop_ps))


def test_a_condition_on_the_faulty_signal_itself_does_not_clear_it() -> None:
    low, high = A.copy(), A.copy()
    low[3, 300:], high[3, 300:] = 0, 1
    for wrong in (low, high):
        for condition in ("D == 0", "D", "D && E", "!D || E"):
            found = compared(GOOD, board(wrong, "south"), qualifier=condition)
            assert found.outcome.exit_status != 0, condition


def test_refresh_that_comes_elsewhere_but_alike_is_left_out_and_agrees() -> None:
    found = compared(refreshing(1), refreshing(2), qualifier="H")
    assert found.outcome.word == "agrees", found.outcome
    assert [own.signals for own in found.notices if own.code.startswith("left_out_")] == [("H",)]
    assert "H" not in found.outcome.signals


def test_a_fault_of_what_is_left_out_is_told() -> None:
    for wrong, what in (
        (refreshing(2, without=range(5, 12)), "unlike numbers of cycles"),
        (refreshing(2, every=12), "unlike numbers of cycles"),
        (refreshing(2, late_ps=120_000), "come at another moment of the cycle"),
    ):
        found = compared(refreshing(1), wrong, qualifier="H")
        assert found.outcome.word == "cannot tell"
        assert any(what in own.text for own in found.notices), [own.text for own in found.notices]


# ---- short pulses


@pytest.mark.parametrize(("samples", "few"), [(1, 6), (2, 3)])
def test_many_short_pulses_on_one_side_cast_doubt_and_few_are_counted(samples: int, few: int) -> None:
    many = compared(at_its_own_pace(GOOD), with_pulses(range(50, 450), samples))
    assert many.outcome.word == "cannot tell"
    assert doubts(many) == [("short_pulses_one_side", ("C",))]
    counted = compared(at_its_own_pace(GOOD), with_pulses(range(50, 50 + few), samples, at=3))
    assert counted.outcome.word == "agrees"
    (told,) = [own.text for own in counted.notices if own.code == "short_pulses"]
    assert told.endswith(f"(good and suspect): C 0 and {few}.")


@pytest.mark.parametrize("count", [1, 3])
def test_a_short_pulse_where_in_the_cycle_the_other_side_never_moves_clears_nothing(count: int) -> None:
    """Too few for chance to say anything, but no gate that settles makes them there."""
    for found in (
        compared(at_its_own_pace(GOOD), with_pulses(range(50, 50 + count), 1)),
        compared(with_pulses(range(50, 50 + count), 1), at_its_own_pace(SAME)),
    ):
        assert found.outcome.word == "cannot tell"
        assert doubts(found) == [("short_pulses_out_of_place", ("C",))]


def pulses_on(suspect: dict[str, range], good: dict[str, range]) -> Comparison:
    """Each of some signals makes pulses of one sample in some cycles, at one moment."""
    sides = [GOOD, SAME]
    for i, own in enumerate((good, suspect)):
        for signal, cycles in own.items():
            sides[i] = with_pulses_on(signal, cycles, 1, sides[i])
    return compared(sides[0], at_its_own_pace(sides[1]))


@pytest.mark.parametrize("count", [1, 3])
def test_a_short_pulse_that_a_signal_shares_which_makes_it_on_both_sides_is_told_alone(count: int) -> None:
    """D makes it in thirty cycles on either side, so D settles there; C is seen to go along in few of them."""
    settles, own = range(50, 80), range(50, 50 + count)
    found = pulses_on({"D": settles, "C": own}, {"D": settles})
    assert found.outcome.word == "agrees"
    assert [n.signals for n in found.notices if n.code == "short_pulses_settling"] == [("C",)]


def test_a_short_pulse_on_several_signals_at_once_clears_nothing() -> None:
    """A spike of the supply, or one that spreads: not where D makes its own, not while the other side is still, and
    not in one of two."""
    settles = range(50, 80)
    for found in (
        pulses_on({"C": range(90, 93), "D": range(90, 93)}, {}),
        pulses_on({"D": range(50, 93), "C": range(90, 93)}, {"D": settles}),
        pulses_on({"D": settles, "C": range(79, 82)}, {"D": settles}),
    ):
        assert found.outcome.word == "cannot tell"
        assert {"C"} <= {s for n in found.notices if n.severity == "doubt" for s in n.signals}


def test_six_pulses_so_wide_that_the_other_side_misses_few_cast_doubt() -> None:
    found = compared(at_its_own_pace(GOOD), with_pulses(range(50, 56), 2))
    assert doubts(found) == [("short_pulses_one_side", ("C",))]


@pytest.mark.parametrize(
    ("samples", "code"), [(3, "short_pulses_finer"), (5, "short_pulses_finer"), (10, "short_pulses_one_side")]
)
def test_thirty_pulses_that_the_slower_side_does_not_show_clear_nothing(samples: int, code: str) -> None:
    """From one that any sound board may make by itself to one that the slower side would have hit now and then."""
    slow, fast = seen_every(FINER), pulses_on_c(range(50, 350, 10), samples, FINER)
    for found in (compared(slow, fast), compared(fast, slow)):
        assert found.outcome.word == "cannot tell"
        assert doubts(found) == [(code, ("C",))]
    assert compared(slow, FINER).outcome.word == "agrees"


def test_pulses_of_which_the_slower_side_shows_its_share_agree() -> None:
    fast = pulses_on_c(range(50, 350, 10), 8, FINER)
    found = compared(seen_every(fast), fast)
    assert found.outcome.word == "agrees"
    assert [own.code for own in found.notices] == ["short_pulses"]


def doubts(found: Comparison) -> list[tuple[str, tuple[str, ...]]]:
    return [(own.code, own.signals) for own in found.notices if own.severity == "doubt"]


def seen_every(capture: Capture, step_ps: int = 27_130) -> Capture:
    """What a slower instrument shows of the same board, at a pace that no clock keeps step with."""
    seen = {}
    for name, own in capture.digital.items():
        at = -(-own.times_ps // step_ps) * step_ps
        last = np.append(at[1:] > at[:-1], True)
        seen[name] = digital_trace(at[last], own.levels[last], own.stop_ps)
    return replace(capture, digital=seen, resolution_ps=step_ps, name="slow")


def at_its_own_pace(capture: Capture) -> Capture:
    """The same sampled at moments that wander against its clock, as two crystals do."""
    rng = np.random.default_rng(5)
    wander = np.cumsum(rng.normal(0, 4_000, 700)).astype(np.int64)
    at = np.arange(700) * CYCLE_PS
    moved = {}
    for name, own in capture.digital.items():
        times = own.times_ps[1:] + np.interp(own.times_ps[1:], at, wander).astype(np.int64)
        moved[name] = DigitalTrace(np.append(0, np.maximum(times, 1)), own.levels, own.stop_ps)
    return replace(capture, digital=moved)


def with_pulses(cycles: range, samples: int, at: int = 4) -> Capture:
    """C makes a pulse of so many samples in each of some cycles, sampled at its own pace."""
    return at_its_own_pace(pulses_on_c(cycles, samples, at=at))


# ---- what is on one side only, stands still, or lies outside


def test_renamed_channels_clear_nothing() -> None:
    other = replace(SAME, digital={("A1" if s == "A" else s): t for s, t in SAME.digital.items()})
    found = compared(GOOD, other)
    assert found.outcome.word == "cannot tell"
    assert "Only one side has A, A1, which move there" in found.outcome.text


def test_one_lacking_of_many_is_told_with_its_number_and_doubted_where_the_sheet_names_it() -> None:
    names = tuple(f"N{i:02d}" for i in range(24))
    rows = np.random.default_rng(3).integers(0, 2, (24, 300)).astype(np.uint8)
    good, suspect = board(rows, names=names), board(rows[:23], "south", names=names[:23])
    found = compared(good, suspect)
    assert found.outcome.headline.endswith("; not judged: 1 is on one side only.")
    sheet = ProbeSheet((Probe("N23", "N23"),))
    named = compare(CompareRequest((good,), (suspect,), sheet, clock="CK"))
    assert (named.outcome.word, named.outcome.signals) == ("cannot tell", ("N23",))


def test_a_signal_that_is_too_still_wears_no_tick_and_the_counts_fit_together() -> None:
    good, suspect = still(GOOD, "A"), still(SAME, "A")
    found = compared(good, suspect)
    assert found.signal("A").verdict == "undecided"
    agree = sum(own.verdict == "agrees" for own in found.signals)
    assert f"No divergence on the clock and {agree - 1} other signals" in found.outcome.text
    assert "not judged: 1 stands too still" in found.outcome.text


def test_a_copy_of_the_clock_is_judged_by_its_transitions() -> None:
    good, suspect = (with_trace(own, "COPY", own.digital["CK"]) for own in (GOOD, SAME))
    found = compared(good, suspect)
    assert found.signal("COPY").verdict == "agrees"
    assert "COPY by transitions alone" in found.outcome.text
    dead = compared(good, still(suspect, "COPY"))
    assert dead.signal("COPY").verdict == "diverges"


def test_most_signals_still_on_both_sides_clear_nothing() -> None:
    good, suspect = GOOD, SAME
    for signal in "DEFGH":
        good, suspect = still(good, signal), still(suspect, signal)
    found = compared(good, suspect)
    assert found.outcome.headline == (
        "Cannot tell. Only 3 of 8 signals besides the clock could be judged: 5 stand too still, undecided or left out."
    )


@pytest.mark.parametrize("shorter", ["good", "suspect"])
def test_agreement_over_a_small_part_of_a_capture_clears_nothing(shorter: str) -> None:
    short = board(A[:, :60], shorter)
    found = compared(short, SAME) if shorter == "good" else compared(GOOD, short)
    whole = "suspect" if shorter == "good" else "known-good"
    assert found.outcome.headline == f"Cannot tell. Only 59 of 599 cycles of the {whole} capture were compared."
    told = compared(GOOD, board(A[:, :400], "south"))
    assert told.outcome.word == "agrees"
    assert told.outcome.headline.endswith("; 200 good and 0 suspect cycles were not compared.")


def test_a_short_capture_is_to_be_as_long_as_the_other():
    request = demo_request(CASES["handshake"])
    whole = request.good[0]
    clock = whole.digital[next(p.channel for p in request.sheet.probes if p.signal == "MCLK")]
    stop = int(clock.times_ps[600])
    short = Capture(
        "short", {name: cut(trace, stop) for name, trace in whole.digital.items()}, {}, whole.resolution_ps, "built"
    )
    outcome = compare(replace(request, good=(short,), suspect=(whole,))).outcome
    assert outcome.reason is Reason.TOO_LITTLE
    assert outcome.do.startswith("Capture the known-good side as long as the other, 3\u202f")
    # the line-up is sure, so that an offset by hand would bring nothing
    assert "by hand" not in outcome.do


# ---- a line-up that is a guess


@pytest.mark.parametrize(
    ("status", "confidence", "reason"),
    [
        ("weak", 0.5, Reason.DOUBTFUL_LINEUP),
        ("local", 0.0003, Reason.DOUBTFUL_LINEUP),
        ("local", 0.9, Reason.SIGNALS),
        ("weak", 0.75, Reason.SIGNALS),
        ("unique", 0.999, Reason.SIGNALS),
        ("by hand", 0.5, Reason.SIGNALS),
    ],
)
def test_what_differs_at_a_guessed_offset_accuses_no_board(status: str, confidence: float, reason: Reason) -> None:
    rows = A.copy()
    rows[3, 200:210] ^= 1
    found = compared(GOOD, board(rows, "south"))
    guessed = replace(found, lineup=replace(found.lineup, status=status, confidence=confidence))
    assert guessed.outcome.reason is reason
    assert guessed.outcome.signals == ("D",)


def test_what_stands_still_differs_at_any_offset() -> None:
    found = compared(GOOD, board(np.concatenate((A[:3], np.zeros_like(A[3:4]), A[4:])), "south"))
    guessed = replace(found, lineup=replace(found.lineup, status="weak", confidence=0.5))
    assert guessed.outcome.reason is Reason.SIGNALS

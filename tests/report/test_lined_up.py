"""Both sides on one time axis, read back by our readers."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from app.__main__ import main
from app.report.lined_up import lined_up_capture, write_lined_up
from demo_traces import CASES
from tests.plant import Fault, Plant
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.errors import RequestError
from tracecore.readers import read_capture


@pytest.fixture(scope="module")
def comparison() -> Comparison:
    pair = Plant(seed=3, cycles=500).faulty(Fault("stuck low", "D03", since=200))
    return compare(CompareRequest((pair.good.capture(),), (pair.suspect.capture(),), pair.sheet, clock="MCLK"))


@pytest.mark.parametrize("name", ["pair.vcd", "pair.csv"])
def test_what_is_written_reads_back_and_still_differs_at_the_same_time(
    comparison: Comparison, tmp_path: Path, name: str
) -> None:
    whole = lined_up_capture(comparison)
    back = read_capture(write_lined_up(comparison, tmp_path / name))
    names = {n.removeprefix("capture."): n for n in back.digital}
    assert set(names) == set(whole.digital)
    for channel, trace in whole.digital.items():
        read = back.digital[names[channel]]
        assert (read.times_ps == trace.times_ps).all()
        assert (read.levels == trace.levels).all()
        assert read.stop_ps == trace.stop_ps
    first = comparison.signal("D03").first_divergence
    assert first is not None
    at = np.array([first.good_ps + 1])
    good, suspect = whole.digital["good.D03"], whole.digital["suspect.D03"]
    after = np.arange(first.good_ps, whole.stop_ps, 1000)
    assert (good.level_at(after) != suspect.level_at(after)).any()
    before = np.arange(whole.start_ps, first.good_ps - 500_000, 50_000)
    # one sample of either side apart at most
    assert (good.level_at(before) != suspect.level_at(before)).mean() < 0.1
    assert suspect.level_at(at)[0] == 0


def test_sides_that_are_not_lined_up_are_refused(comparison: Comparison) -> None:
    apart = replace(comparison, lineup=replace(comparison.lineup, runs=()))
    with pytest.raises(RequestError, match="not lined up"):
        lined_up_capture(apart)


def test_the_command_writes_the_pair(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    case = CASES["receiver"]
    words = ["--good", str(case.good[0]), "--suspect", str(case.suspect[0]), "--sheet", str(case.sheet)]
    path = tmp_path / "pair.vcd"
    assert main(["compare", *words, "--pair", str(path)]) == 1
    assert "pair.vcd" in capsys.readouterr().err
    assert "D03" in path.read_text("utf-8")

"""``twinslot levels`` and ``twinslot timing``: what they say, their exit status, JSON and CSV."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import numpy as np
import pytest

from app.__main__ import main
from app.report.cautions import AT_THE_PINS
from demo_traces import CASES


def pair(name: str) -> list[str]:
    case = CASES[name]
    sides = ["--good", str(case.good[0]), "--suspect", str(case.suspect[0])]
    return [*sides, "--sheet", str(case.sheet), "--clock", case.clock, "--family", case.family]


def test_levels_name_the_dirty_contact_with_its_margin_and_what_to_probe(capsys):
    assert main(["levels", *pair("contact")]) == 1
    out = capsys.readouterr().out
    assert "1 of 4 signals in volts violate" in out
    assert "D02 (7-B03): weak low 1.11 V" in out
    assert "Probe next: 6-B21" in out
    assert "−0.40 V" in out
    assert "Usual low is as on good, within ±0.06 V." in out
    assert "The instrument is too slow to tell rise times of D02, MCLK" in out
    assert "do not say that any step is safe" in out


@pytest.mark.parametrize(("command", "case"), [("levels", "contact"), ("compare", "contact"), ("compare", "waits")])
def test_the_caution_follows_each_probe_next(command: str, case: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([command, *pair(case)]) == 1
    _before, *behind = " ".join(capsys.readouterr().out.split()).split("Probe next")
    assert behind
    assert all(AT_THE_PINS in text for text in behind)


def test_levels_as_json_and_csv(capsys, tmp_path: Path):
    rows = tmp_path / "levels.csv"
    assert main(["levels", *pair("contact"), "--json", "-", "--csv", str(rows)]) == 1
    found = json.loads(capsys.readouterr().out)
    assert found["schema"] == "twinslot.levels/1"
    first = found["signals"][0]
    assert (first["signal"], first["verdict"]) == ("D02", "violates")
    assert first["suspect"]["low_margin_v"] < -0.2 < first["good"]["low_margin_v"]
    assert first["finding"]["caution"] == AT_THE_PINS
    assert first["finding"]["since_cycle"] == CASES["contact"].planted_cycle
    written = list(csv.DictReader(io.StringIO(rows.read_text("utf-8"))))
    assert len(written) == sum(s["violations"] for s in found["signals"])
    assert {r["kind"] for r in written} >= {"weak low", "runt"}


def test_a_family_by_signal_moves_its_limits(capsys):
    arguments = ["levels", *pair("contact"), "--drives", "D02=74>VIL=1.5 VIH=2.0 VOL=0.4 VOH=2.4", "--json", "-"]
    # nothing violates, but the suspect alone has less margin than is promised
    assert main(arguments) == 2
    found = {s["signal"]: s for s in json.loads(capsys.readouterr().out)["signals"]}
    assert found["D02"]["verdict"] == "marginal"


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (["--drives", "D02=74LSS>74"], "Near it: 74LS"),
        (["--drives", "D02"], "expected SIGNAL=DRIVER>RECEIVER"),
        (["--drives", "D09=74>74"], "D09 is not captured"),
        (["--drives", "D02=74>VIL=2 VIH=1 VOL=0.4 VOH=2.4"], "VIL 2 V is not below VIH 1 V"),
    ],
)
def test_bad_families_are_one_sentence(capsys, more, words):
    assert main(["levels", *pair("contact"), *more]) == 2
    assert words in capsys.readouterr().err


def test_levels_want_volts(capsys):
    assert main(["levels", *pair("handshake")]) == 2
    assert "No channel of these captures is in volts" in capsys.readouterr().err


def test_a_supply_out_of_range_is_told_and_nothing_is_judged(capsys):
    assert main(["levels", *pair("contact"), "--supply", "4.4"]) == 2
    assert "The supply is 4.4 V" in capsys.readouterr().out


def test_timing_judges_by_the_part_and_tells_the_rest(capsys):
    arguments = ["timing", *pair("handshake"), "--into", "ACK=7474", "--path", "7474 7404 7400 7474", "--json", "-"]
    status = main(arguments)
    found = json.loads(capsys.readouterr().out)
    rows = {s["signal"]: s for s in found["signals"]}
    assert "SDLS119" in rows["ACK"]["limits_source"]
    assert rows["D00"]["why"] == "no part given"
    assert status == (1 if any(r["verdict"] == "violates" for r in rows.values()) else 0)
    assert main(arguments[:-2]) == status
    assert "40 + 22 + 22 + 20 = 104 ns, 9.6 MHz" in capsys.readouterr().out


def test_timing_without_any_part_cannot_tell(capsys):
    assert main(["timing", *pair("handshake")]) == 2
    assert "no part given" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (["--into", "ACK"], "expected SIGNAL=PART"),
        (["--needs", "ACK=20"], "expected SIGNAL=SETUP,HOLD"),
        (["--needs", "ACK=setup=20"], "cannot be read"),
        (["--needs", "NONE=20 ns,5 ns"], "NONE is not captured"),
        (["--into", "NONE=7474"], "NONE is not captured"),
        (["--path", "7474"], "at least two parts"),
        (["--path", "7474 7404"], "no printed setup time"),
    ],
)
def test_bad_parts_are_one_sentence(capsys, more, words):
    assert main(["timing", *pair("handshake"), *more]) == 2
    assert words in capsys.readouterr().err


@pytest.mark.parametrize(
    ("name", "title", "words"),
    [
        ("open", "D01 (7-B02): rests at 1.4", "may be an open input"),
        ("pullup", "WAIT (7-A12): slow rise", "open-collector line without its pull-up"),
    ],
)
def test_each_scope_demo_is_named_with_what_would_confirm_it(capsys, name, title, words):
    assert main(["levels", *pair(name)]) == 1
    out = capsys.readouterr().out
    assert "1 of 4 signals in volts violate" in out or name == "open"
    assert title in out
    assert words in out
    assert "with power off" in out


def test_the_missed_setup_is_named_with_its_part_and_cycle(capsys):
    assert main(["timing", *pair("setup")]) == 1
    out = " ".join(capsys.readouterr().out.split())
    assert "ACK (7-A09): 2 of" in out
    assert "less setup than 20 ns" in out
    assert "SDLS119" in out
    assert "MCLK, suspect: cycle 417 ns (2.399 MHz), high for 50 %, period jitter" in out
    assert "Drift: the suspect's cycle is 2000 ppm longer" in out
    found = json.loads(_timing_json(capsys))
    ack = next(s for s in found["signals"] if s["signal"] == "ACK")
    (setup,) = [r for r in ack["readings"] if r["what"] == "setup"]
    assert setup["smallest_ps"] in (7_000, 8_000)
    assert setup["breaking"] == 2
    assert {s["verdict"] for s in found["signals"] if s["signal"] in ("D00", "D01", "MCLK")} == {"within"}
    clock = next(s for s in found["signals"] if s["signal"] == "MCLK")
    assert {r["what"]: r["limit_ps"] for r in clock["readings"]} == {
        "high pulse": 30_000,
        "low pulse": 37_000,
        "period": 66_667,
    }
    assert found["clocks"]["suspect"]["high_share"] == pytest.approx(0.5, abs=0.01)


def _timing_json(capsys) -> str:
    main(["timing", *pair("setup"), "--json", "-"])
    return capsys.readouterr().out


def test_a_logic_capture_of_the_same_run_is_joined_through_a_signal(capsys, tmp_path: Path):
    """The scope's STB becomes a logic capture that begins 3 us earlier; D02 stays with the scope."""
    from tracecore.measure.families import family
    from tracecore.measure.levels import digitise
    from tracecore.readers import read_capture

    case = CASES["contact"]
    rows = {}
    for side, path in (("good", case.good[0]), ("suspect", case.suspect[0])):
        scope = read_capture(path)
        both = {c: digitise(scope.analog[c], family("74LS")).digital for c in ("CH1", "CH2", "CH3")}
        times = np.unique(np.concatenate([trace.times_ps for trace in both.values()]))
        levels = [trace.level_at(times).tolist() for trace in both.values()]
        rows_of = zip(((times + 3_000_000) // 1000).tolist(), *levels, strict=True)
        lines = ["Time [ns],L1,L2,L3", *(",".join(map(str, row)) for row in rows_of)]
        rows[side] = tmp_path / f"{side}_logic.csv"
        rows[side].write_text("\n".join(lines) + "\n", "utf-8")
    sheet = tmp_path / "sheet.csv"
    text = case.sheet.read_text("utf-8")
    sheet.write_text(
        text + "L1,CLKL,7,A02,high,74,,,2-A03,\nL2,STBL,7,A17,low,74,,,2-A17,\nL3,READL,7,A18,high,74,,,,\n"
    )
    arguments = ["levels", *pair("contact")]
    arguments[arguments.index("--sheet") + 1] = str(sheet)
    assert main([*arguments, "--good-logic", str(rows["good"])]) == 2
    assert "Name it with --through" in capsys.readouterr().err
    assert main([*arguments, "--good-logic", str(rows["good"]), "--through", "STB"]) == 2
    assert "has no signal STB" in capsys.readouterr().err
    both = ["--good-logic", str(rows["good"]), "--suspect-logic", str(rows["suspect"]), "--through", "READ=READL"]
    arguments[arguments.index("--clock") + 1] = "CLKL"
    assert main([*arguments, *both]) == 1
    out = capsys.readouterr().out
    assert out.count("Joined through L3") == 2
    assert "offset +3 µs" in out
    assert "D02 (7-B03): weak low 1.11 V" in out
    assert f"First at cycle {case.planted_cycle}." in out

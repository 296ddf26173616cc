"""The command line as a shell sees it: exit status, sentences, JSON, and nothing half written."""

from __future__ import annotations

import gzip
import json

import pytest

from app.__main__ import main
from demo_traces import CASES
from tests.thinned import thinned

RECEIVER = CASES["receiver"]
GOOD, SUSPECT, SHEET = str(RECEIVER.good[0]), str(RECEIVER.suspect[0]), str(RECEIVER.sheet)


def run(*words: str) -> int:
    try:
        return main(list(words)) or 0
    except SystemExit as stop:
        return int(stop.code or 0)


@pytest.mark.parametrize("name", thinned([name for name, case in CASES.items() if not case.planted_in], 3))
def test_each_demo_case_names_its_planted_fault_first(name, capsys):
    case = CASES[name]
    sides = [*("--good", *map(str, case.good)), *("--suspect", *map(str, case.suspect))]
    assert run("compare", *sides, "--sheet", str(case.sheet), "--json", "-") == 1
    found = json.loads(capsys.readouterr().out)
    first = found["causes"][0]
    assert first["signal"] == case.planted_signal
    assert first["fault_mode"].startswith(case.planted_mode)
    row = next(s for s in found["signals"] if s["signal"] == case.planted_signal)
    assert row["first_divergence"]["cycle"] == case.planted_cycle


def test_a_capture_agrees_with_itself(capsys):
    same = ("--good", GOOD, "--suspect", GOOD, "--sheet", SHEET)
    assert run("compare", *same) == 2
    assert "same file, byte for byte" in capsys.readouterr().err
    assert run("compare", *same, "--same-file") == 0
    out = capsys.readouterr().out
    assert "\x1b[" not in out
    assert "Both sides hold the same file" in out


def test_the_json_keeps_its_documented_shape(capsys):
    run("compare", "--good", GOOD, "--suspect", SUSPECT, "--sheet", SHEET, "--json", "-")
    found = json.loads(capsys.readouterr().out)
    assert found["schema"] == "twinslot.comparison/1"
    assert set(found) == {
        "schema", "outcome", "outcome_reason", "outcome_text", "outcome_do", "good", "suspect", "lineup", "coverage",
        "clocks", "signals", "causes", "captures", "repeats", "varies", "notices", "warnings",
    }  # fmt: skip
    assert set(found["lineup"]) == {
        "status", "reason", "clock", "edge", "offset_cycles", "confidence", "runner_up", "compared_cycles", "drift_ppm",
        "slips", "left_out", "good_slips",
    }  # fmt: skip
    signal = next(s for s in found["signals"] if s["signal"] == "D03")
    assert set(signal) == {
        "signal", "slot", "pin", "verdict", "fault_mode", "fault_kind", "first_divergence",
        "diverging_cycles", "compared_cycles", "skew_ps", "missing_transitions", "extra_transitions", "levels",
        "margins", "limits",
    }  # fmt: skip
    assert set(signal["first_divergence"]) == {"cycle", "good_ps", "suspect_ps"}
    assert set(signal["skew_ps"]) == {"median", "p95", "max", "uncertainty"}
    assert (found["outcome"], found["outcome_reason"]) == ("diverges", "signals")
    assert found["outcome_text"] == "3 of 16 signals diverge."
    assert found["lineup"]["status"] == "unique"
    for side in found["coverage"].values():
        parts = ("before", "matched", "slipped", "diverged", "unsure", "after", "left_out")
        assert sum(side[part] for part in parts) == side["total"] > 0
    assert {own["severity"] for own in found["notices"]} <= {"doubt", "look", "info"}
    assert [c["rank"] for c in found["causes"]] == [1, 2, 3]
    names = {"rank", "signal", "fault_mode", "fault_kind", "chip", "because", "probe_next", "caution"}
    assert set(found["causes"][0]) == names


BAD = {
    "missing": (None, "no readable file"),
    "empty": ("", "an empty file"),
    "binary": ("\x00\x01\x02", "not text"),
    "short row": ("# Sample rate: 1 MHz\nA,B\n0,1\n1\n0,0\n", "line 4"),
    "long row": ("# Sample rate: 1 MHz\nA,B\n0,1\n1,0,1\n0,0\n", "line 4"),
    "bad cell": ("# Sample rate: 1 MHz\nA,B\n0,1\n1,2\n0,0\n", "column 2"),
    "backwards": ("Time [s],A\n0.1,0\n0.3,1\n0.2,0\n", "line 4"),
    "no rate": ("A,B\n0,1\n1,0\n", "sample rate"),
    "nothing in common": ("# Sample rate: 1 MHz\nP,Q\n" + "0,1\n1,0\n" * 40, "in common"),
}


@pytest.mark.parametrize("kind", BAD)
def test_bad_input_is_one_sentence_and_leaves_nothing_behind(kind, tmp_path, capsys):
    text, says = BAD[kind]
    path = tmp_path / "suspect.csv"
    if text is not None:
        path.write_text(text)
    out = tmp_path / "report"
    assert run("compare", "--good", GOOD, "--suspect", str(path), "--sheet", SHEET, "--out", str(out)) == 2
    heard = capsys.readouterr()
    assert says in heard.err
    assert "Traceback" not in heard.err
    assert not heard.out
    assert [p.name for p in tmp_path.iterdir()] == (["suspect.csv"] if text is not None else [])


@pytest.mark.parametrize(
    ("words", "says"),
    [(("--clock", "NOPE"), "'NOPE'"), (("--family", "74XX"), "'74XX'"), (("--tolerance", "soon"), "soon")],
)
def test_a_wish_that_cannot_be_met_is_one_sentence(words, says, capsys):
    assert run("compare", "--good", GOOD, "--suspect", SUSPECT, "--sheet", SHEET, *words) == 2
    assert says in capsys.readouterr().err


def test_a_clock_that_never_toggles_is_a_finding(tmp_path, capsys):
    path = tmp_path / "still.csv"
    path.write_text("# Sample rate: 1 MHz\nCK,A\n" + "0,1\n0,0\n" * 60)
    good = tmp_path / "good.csv"
    good.write_text("# Sample rate: 1 MHz\nCK,A\n" + "0,1\n1,1\n0,0\n1,0\n" * 60)
    status = run("compare", "--good", str(good), "--suspect", str(path), "--clock", "CK")
    heard = capsys.readouterr()
    assert status == 1
    assert "never toggles" in heard.out + heard.err


def test_a_base_of_words_can_be_said(tmp_path, capsys):
    path = tmp_path / "words.csv"
    path.write_text("# Sample rate: 1 MHz\nBUS,CLK\n" + "10,0\n11,1\n" * 40)
    assert run("check", str(path)) == 2
    assert "word_base" in capsys.readouterr().err
    assert run("check", "--word-base", "binary", str(path)) in (0, 1)
    assert "3 channels" in capsys.readouterr().out


def test_check_says_what_is_in_a_capture(capsys):
    assert run("check", GOOD) == 0
    said = capsys.readouterr().out
    assert "24 MHz" in said
    assert len(said.splitlines()) < 24


def test_check_goes_on_past_a_file_that_cannot_be_read(tmp_path, capsys):
    torn = tmp_path / "torn.csv"
    torn.write_text("; Samplerate: 1 MHz\nA,B\n0,1\n0,q\n1,0\n")
    assert run("check", str(torn), GOOD, str(tmp_path / "none.csv")) == 2
    said = capsys.readouterr()
    assert "24 MHz" in said.out
    assert "line 4" in said.err
    assert "none.csv" in said.err


def test_cycles_are_left_out_by_a_condition(capsys):
    words = ["compare", "--good", GOOD, "--suspect", SUSPECT, "--sheet", SHEET]
    assert run(*words, "--leave-out", "RFSH == 1 || WAIT") == 1
    assert "Left out where RFSH is 1 or WAIT" in capsys.readouterr().out
    assert run(*words, "--leave-out", "RFSH == ") == 2
    said = capsys.readouterr().err
    assert "character" in said
    assert len(said.strip().splitlines()) == 1


def test_several_captures_and_swapped_leads_are_told(tmp_path, capsys):
    words = ["compare", "--good", GOOD, "--sheet", SHEET, "--clock", "MCLK"]
    run(*words, "--suspect", *(str(path) for path in RECEIVER.suspect))
    assert "2 of 2 suspect captures diverge: suspect.csv.gz, suspect_2.csv.gz." in capsys.readouterr().out
    # columns L03 and L04 (D00 and D01) change places, as leads do that were clipped the wrong way round
    lines = gzip.decompress(RECEIVER.suspect[0].read_bytes()).decode().splitlines()
    for number, line in enumerate(lines):
        if line[:1] in "01":
            cells = line.split(",")
            cells[3], cells[4] = cells[4], cells[3]
            lines[number] = ",".join(cells)
    (tmp_path / "swapped.csv").write_text("\n".join(lines) + "\n", "utf-8")
    run(*words, "--suspect", str(tmp_path / "swapped.csv"))
    said = capsys.readouterr().out
    assert "▲ " in said
    assert "look swapped" in said


@pytest.mark.parametrize("some", [8, pytest.param(40, marks=pytest.mark.long)])
def test_the_soak_tells_the_start_that_went_wrong(tmp_path, capsys, some):
    case = CASES["once"]
    record, starts = tmp_path / "record.csv", tmp_path / "starts"
    starts.mkdir()
    at = next(i for i, path in enumerate(case.suspect) if path.name == case.planted_in)
    first = max(0, min(at - some // 2, len(case.suspect) - some))
    for path in case.suspect[first : first + some]:
        (starts / path.name).write_bytes(path.read_bytes())
    words = ["soak", str(starts), "--good", *map(str, case.good), "--sheet", str(case.sheet), "--clock", case.clock]
    run(*words, "--out", str(record), "--settle", "0", "--captures", str(some))
    said = capsys.readouterr()
    assert f"1 of {some}" in said.out + said.err
    assert case.planted_in in said.out + said.err


def test_a_probe_sheet_given_as_a_capture_is_told(capsys):
    assert run("check", SHEET) == 2
    assert capsys.readouterr().err.rstrip().endswith("It begins as a probe sheet does; a sheet is given with --sheet.")
    assert run("compare", "--good", GOOD, "--suspect", SUSPECT, "--sheet", GOOD) == 2
    assert "--sheet." not in capsys.readouterr().err


def test_a_wire_list_is_used_and_told(tmp_path, capsys):
    wires = tmp_path / "slot7_wires.csv"
    wires.write_text("part,kind,output,inputs\nU7,register,SEQ2,D03\nU9,gate,D02,SEQ2\n")
    words = ["compare", "--good", GOOD, "--suspect", SUSPECT, "--sheet", SHEET, "--wires", str(wires)]
    assert run(*words, "--out", str(tmp_path / "report")) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "Wire list slot7_wires.csv used for the likely causes: 2 rows, 2 with every net captured." in said
    assert "By the wire list D03 feeds it" in said
    assert "1. D03" in said
    page = next((tmp_path / "report").rglob("*.html")).read_text("utf-8")
    assert "Wire list slot7_wires.csv used" in page


def test_a_wire_list_of_other_signals_is_told_and_changes_nothing(tmp_path, capsys):
    wires = tmp_path / "other.csv"
    wires.write_text("part,kind,output,inputs\nU7,gate,NOWHERE,NONE\n")
    words = ["compare", "--good", GOOD, "--suspect", SUSPECT, "--sheet", SHEET, "--json", "-"]
    run(*words)
    without = json.loads(capsys.readouterr().out)
    assert run(*words, "--wires", str(wires)) == 1
    found = json.loads(capsys.readouterr().out)
    assert found["causes"] == without["causes"]
    assert any("names no captured signal" in w for w in found["warnings"])


def test_a_bad_row_of_a_wire_list_is_named_by_line(tmp_path, capsys):
    wires = tmp_path / "bad.csv"
    wires.write_text("part,kind,output,inputs\nU7,gate,Y,A\nU8,latch,Z,Y\n")
    assert run("compare", "--good", GOOD, "--suspect", SUSPECT, "--wires", str(wires)) == 2
    said = capsys.readouterr().err
    assert "bad.csv" in said
    assert "line 3" in said
    assert "'latch' as kind" in said


def test_one_start_in_forty_is_told_with_its_likely_cause_and_its_share(tmp_path, capsys):
    """One run for all that is said of it, since forty captures take a while."""
    once, path = CASES["once"], tmp_path / "found.json"
    sides = ["--good", *map(str, once.good), "--suspect", *map(str, once.suspect)]
    assert run("compare", *sides, "--sheet", str(once.sheet), "--json", str(path)) == 1
    said = capsys.readouterr().out
    assert "The shown pair agrees, but 1 of 40 suspect captures diverges, on D00, D01, D02: start_27.csv.gz." in said
    assert "1. D00 (7-B01): stuck high" in said
    assert "from cycle 204" in said
    assert "D00 is first in 1 of 1 diverging capture; " in said
    # 1 of 40 by the formula of Wilson 1927 with z = 1.959964: 0.004427 to 0.128814, worked out apart from the program
    assert "D00 diverges in 1 of 40 captures; 0 to 13 % with 95 % confidence: " + once.planted_in in said
    assert "Learnt from 3 known-good captures. Compared with them, another sound one would show no difference." in said
    found = json.loads(path.read_text("utf-8"))
    first, repeats = found["causes"][0], found["repeats"]
    assert first["signal"] == once.planted_signal
    assert first["fault_mode"].startswith(once.planted_mode)
    assert once.planted_in in first["because"][0]
    assert [c["name"] for c in found["captures"] if c["diverges"]] == [once.planted_in]
    assert (repeats["captures"], repeats["diverging"], repeats["uncounted"]) == (40, 1, 0)
    row = next(r for r in repeats["signals"] if r["signal"] == once.planted_signal)
    assert (row["low"], row["high"]) == (pytest.approx(0.004427, abs=1e-6), pytest.approx(0.128814, abs=1e-6))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("compare", "--good", "a", "--suspect", "b", "--shet", "c"), "compare: --shet is no option here; --sheet is."),
        (("check", "a.csv", "--clok=x"), "check: --clok is no option here."),
        (("demo", "receiver", "clip"), "demo: 'clip' is one word too many."),
    ],
)
def test_what_a_command_does_not_know_leads_to_its_own_help(words, said, capsys):
    assert run(*words) == 2
    assert capsys.readouterr().err == f"twinslot {said} See twinslot {words[0]} --help.\n"


def test_an_offset_is_typed_as_it_is_printed_or_refused_in_a_sentence(capsys):
    sides = ("--good", GOOD, "--suspect", SUSPECT, "--sheet", SHEET)
    assert run("compare", *sides, "--offset=\u22121 000") == 1
    # nothing vouches for an offset by hand, so no confidence is claimed
    assert "offset \u22121 000, set by hand: good cycle" in capsys.readouterr().out.replace("\u202f", " ")
    assert run("compare", *sides, "--offset", "abc") == 2
    assert "'abc' is not a whole number of cycles such as 12 or -7" in capsys.readouterr().err


def test_a_check_goes_on_past_a_file_that_cannot_be_read(tmp_path, capsys):
    (tmp_path / "bad.csv").write_text("no capture\n")
    assert run("check", str(tmp_path / "bad.csv"), GOOD, str(tmp_path / "none.csv")) == 2
    said = capsys.readouterr()
    assert "Signals: " in said.out
    assert "bad.csv" in said.err
    assert "none.csv" in said.err
    assert run("check", GOOD) == 0


def test_a_demo_without_display_writes_to_the_documents_and_says_where(tmp_path, monkeypatch, capsys):
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TWINSLOT_SETTINGS", str(tmp_path / "own"))
    monkeypatch.setattr("app.cli.run._picture", lambda case, folder: folder / "window.png")
    assert run("demo", "receiver") == 0
    folder = tmp_path / "own" / "documents" / "Twinslot demo receiver"
    assert (folder / "report.html").is_file()
    assert f"Written: {folder / 'report.html'}" in capsys.readouterr().err
    assert sorted(p.name for p in tmp_path.iterdir()) == ["own"]

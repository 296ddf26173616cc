"""Files of one run, a sheet for each side and names that differ by little, in a case: as one compare command has it."""

from __future__ import annotations

import json
import shlex
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from app.__main__ import main
from app.case.store import CaseStore
from tests.unlike_sides import unlike_sides


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    return unlike_sides(tmp_path_factory.mktemp("sides"))


def record(folder: Path) -> dict:
    return json.loads((folder / "comparison.json").read_text("utf-8"))


@pytest.fixture(scope="module")
def case(files: dict[str, str], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All of it attached to a case, in two steps."""
    path = tmp_path_factory.mktemp("case") / "case14.twinslot"
    join = ["--join", "trigger", "--clock", "MCLK"]
    good, bad = [files["good1"], files["good2"]], [files["bad1"], files["bad2"]]
    assert main(["attach", str(path), *good, "--side", "good", "--new", *join]) == 0
    own = ["--suspect-sheet", files["own"], "--match-names"]
    assert main(["attach", str(path), *bad, "--side", "suspect", *own, *join]) == 0
    return path


def test_the_case_compares_as_the_command_does(files, case: Path, tmp_path: Path, capsys) -> None:
    typed = ["compare", "--good", files["good1"], files["good2"], "--suspect", files["bad1"], files["bad2"]]
    typed += ["--join", "trigger", "--suspect-sheet", files["own"], "--match-names", "--clock", "MCLK"]
    assert main([*typed, "--out", str(tmp_path / "typed")]) == 1
    assert main(["report", str(case), "--out", str(tmp_path / "kept")]) == 0
    typed_record, kept_record = record(tmp_path / "typed"), record(tmp_path / "kept")
    assert kept_record == typed_record
    assert [cause["signal"] for cause in kept_record["causes"]][:1] == ["D01"]
    assert {s["verdict"] for s in kept_record["signals"] if s["signal"] != "D01"} <= {"agrees"}
    # what is found by its kind and its slot later is what was found here
    capsys.readouterr()
    assert main(["earlier", str(case.parent), "--mode", "stuck low", "--slot", "7"]) == 0


def test_report_and_log_tell_of_files_and_names(case: Path, files, tmp_path: Path, capsys, monkeypatch) -> None:
    assert main(["report", str(case), "--out", str(tmp_path / "kept"), "--sections", "conditions"]) == 0
    text = " ".join((tmp_path / "kept" / "report.html").read_text("utf-8").split())
    for words in ("joined from bad1.csv, bad2.csv; by trigger", "suspect side has a probe sheet of its own: own.csv"):
        assert words in text, words
    assert "Taken as one signal, though written otherwise: " in text
    capsys.readouterr()
    assert main(["log", str(case)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Known-good: good1.csv + good2.csv (good1.csv, good2.csv; by trigger)" in said
    assert "a probe sheet of its own: own.csv" in said
    # the command that the report names gives the same again
    start = text.index("twinslot compare")
    command = shlex.split(text[start : text.index("<", start)].replace("&#39;", "'"))
    monkeypatch.chdir(Path(files["own"]).parent)
    capsys.readouterr()
    assert main([*command[1:], "--json", "-"]) == 1
    assert json.loads(capsys.readouterr().out) == record(tmp_path / "kept")


def test_without_its_files_the_case_reads_them_from_itself(case: Path, files, tmp_path: Path) -> None:
    with closing(CaseStore.open(case, look_only=True)) as store:
        held = store.read().good.captures[0]
        assert [store.has_blob(own.sha256) for own in held.files] == [True, True]
    moved = tmp_path / "elsewhere.twinslot"
    moved.write_bytes(case.read_bytes())
    assert main(["report", str(moved), "--out", str(tmp_path / "again")]) == 0
    assert record(tmp_path / "again")["causes"][0]["signal"] == "D01"


def test_a_torn_part_is_named_when_the_case_is_rescued(case: Path, files, tmp_path: Path, capsys) -> None:
    torn = tmp_path / "torn.twinslot"
    torn.write_bytes(case.read_bytes())
    with closing(CaseStore.open(torn, look_only=True)) as store:
        part = store.read().good.captures[0].parts[0]
    with closing(sqlite3.connect(torn)) as connection, connection:
        connection.execute("UPDATE blob_part SET data = x'00' WHERE sha256 = ?", (part.sha256,))
    capsys.readouterr()
    assert main(["rescue", str(torn), str(tmp_path / "new.twinslot")]) == 0
    said = " ".join(capsys.readouterr().err.split())
    assert "1 captures and" in said
    assert "good2.csv: its file was in the case and is torn" in said


def test_nothing_is_taken_for_a_repeat_or_for_one_signal_unasked(files, tmp_path: Path, capsys) -> None:
    path = str(tmp_path / "case.twinslot")
    assert main(["attach", path, files["good1"], files["good2"], "--side", "good", "--new"]) == 2
    assert "hold no signal in common, so the one is no repeat" in " ".join(capsys.readouterr().err.split())
    assert main(["attach", path, files["good2"], "--side", "good", "--new"]) == 0
    assert main(["attach", path, files["bad2"], "--side", "suspect"]) == 0
    said = " ".join(capsys.readouterr().err.split())
    assert "Names differ: " in said
    assert "add --match-names" in said
    with closing(CaseStore.open(path, look_only=True)) as store:
        assert store.read().suspect.captures[0].called == ()
    assert main(["attach", path, "--match-names"]) == 0
    with closing(CaseStore.open(path, look_only=True)) as store:
        kept = store.read()
        assert set(kept.suspect.captures[0].channels) == set(kept.good.captures[0].channels)
    # an empty name takes a sheet away again
    assert main(["attach", path, "--suspect-sheet", files["own"]]) == 0
    assert main(["attach", path, "--suspect-sheet", ""]) == 0
    with closing(CaseStore.open(path, look_only=True)) as store:
        assert (store.read().suspect.sheet, store.read().sheet.probes) == (None, ())


def test_one_file_is_not_joined(files, tmp_path: Path, capsys) -> None:
    typed, more = ["attach", str(tmp_path / "case.twinslot")], ["--side", "good", "--new", "--join", "trigger"]
    assert main([*typed, files["good1"], *more]) == 2
    assert "found 1 file. Name all parts" in capsys.readouterr().err
    assert main([*typed, files["good1"], files["good1"], *more]) == 2
    assert "named twice" in capsys.readouterr().err


def test_what_lands_in_a_watched_folder_has_the_names_of_its_side(case: Path, files, tmp_path: Path, capsys) -> None:
    path = str(tmp_path / "case.twinslot")
    assert main(["attach", path, files["good1"], "--side", "good", "--new", "--clock", "MCLK"]) == 0
    assert main(["attach", path, "--suspect-sheet", files["own"]]) == 0
    landing = tmp_path / "landing"
    landing.mkdir()
    (landing / "one.csv").write_bytes(Path(files["bad1"]).read_bytes())
    typed = ["soak", str(landing), "--case", path, "--captures", "1", "--settle", "0"]
    assert main([*typed, "--stop-after", "30 s"]) == 1
    assert "D01" in capsys.readouterr().out


def test_one_file_a_side_is_not_joined(files: dict[str, str], tmp_path: Path, capsys) -> None:
    case = str(tmp_path / "one.twinslot")
    good = files["good1"]
    CaseStore.open(case).close()
    for found, command in (
        ("1 file a side", ["compare", "--good", good, "--suspect", files["bad1"]]),
        ("1 file", ["attach", case, good, "--side", "good"]),
    ):
        assert main([*command, "--join", "nonsense"]) == 2
        told = capsys.readouterr().err.strip().splitlines()[-1]
        assert told == f"twinslot: --join nonsense: found {found}. Name all parts of the run."

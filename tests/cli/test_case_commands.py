"""A case from symptom to proof by the command line alone."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

import pytest
from pypdf import PdfReader

from app.__main__ import main
from app.case.store import CaseStore
from demo_traces import CASES

CASE = CASES["receiver"]


@pytest.fixture(autouse=True)
def no_display(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def path(tmp_path: Path) -> str:
    return str(tmp_path / "case14.twinslot")


def read(path: str):
    """The case, and the words of its history."""
    store = CaseStore.open(path, look_only=True)
    try:
        return store.read(), [step.words for step in store.history()]
    finally:
        store.close()


def photo(folder: Path) -> str:
    """A picture of nothing."""
    from PIL import Image

    made = folder / "slot7.png"
    Image.new("RGB", (64, 48), "#446644").save(made)
    return str(made)


def test_from_symptom_to_verified(path: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def run(*words: str) -> None:
        assert main(list(words)) == 0, capsys.readouterr().err

    run("open", path, "--title", CASE.title, "--number", "14", "--suspect-unit", "south crate, 7, 2", "--by", "R.")
    run("attach", path, *map(str, CASE.good), "--side", "good", "--sheet", str(CASE.sheet), "--clock", "MCLK")
    run("attach", path, *map(str, CASE.suspect), "--side", "suspect")
    run("enter", path, "Stops once it is warm", "--by", "R.")
    run("enter", path, "D03 stuck low at 7-B04", "--kind", "suspected", "--signal", "D03", "--cycle", "1004")
    run("enter", path, "Wire", "--kind", "measured", "--reading", "6-B22 to 7-B04, 0.2, 180", "--because", "2")
    part = ("--part", "7474, donor board U31, slot 7 U14, 7338", "--part", "7474, slot 7 U14, bag 14-1, 7221")
    run("enter", path, "U14 exchanged", "--kind", "done", *part, "--picture", photo(tmp_path), "--state", "repaired")
    run("enter", path, "0 of 300 captures diverge", "--kind", "result", "--proof", "0/300", "--state", "verified")
    case, history = read(path)
    assert (case.named, case.state) == ("Case 14 · Nonsense once it is warm", "verified")
    assert (case.suspect_unit.name, case.suspect_unit.slot, case.suspect_unit.serial) == ("south crate", "7", "2")
    assert len(case.captures) == len(CASE.good) + len(CASE.suspect)
    assert [e.kind for e in case.entries] == ["seen", "suspected", "measured", "done", "result"]
    assert case.entries[2].because == (2,)
    assert (case.entries[2].readings[0].suspect, case.entries[4].proof.captures) == ("180", 300)
    assert [(r.pair, r.ohms, r.side) for r in case.continuity.readings] == [
        (("6-B22", "7-B04"), 0.2, "good"),
        (("6-B22", "7-B04"), 180.0, "suspect"),
    ]
    assert [(p.date_code, p.entry) for p in case.parts] == [("7338", 4), ("7221", 4)]
    assert case.pictures[0].name == "slot7.png"
    assert history.count("log entry") == 5
    capsys.readouterr()
    run("log", path)
    said = capsys.readouterr().out
    assert "Case 14 · Nonsense once it is warm: verified" in said
    assert "5  " in said
    assert "result: 0 of 300 captures diverge" in said
    # all that hangs on a line stands under it
    assert "     6-B22 to 7-B04: known-good 0.2 ohm, suspect 180 ohm" in said
    assert "fewer than 1.0 % would" in said
    assert "Part moved: 7474 from slot 7 U14 to bag 14-1, date code 7221 (1972, week 21)" in said
    assert "Because of entry 2." in said
    assert "Picture 1: slot7.png" in said

    # nothing was compared yet; the report compares, and keeps what it found where it is looked for
    assert main(["earlier", str(tmp_path), "--mode", "stuck low"]) == 1
    folder = tmp_path / "report"
    run("report", path, "--out", str(folder))
    run("earlier", str(tmp_path), "--mode", "stuck low")
    run("report", path, "--out", str(folder))
    with closing(CaseStore.open(path, look_only=True)) as store:
        assert len(store.comparisons()) == 1
    assert sorted(p.name for p in folder.iterdir()) == [
        "comparison.json",
        "divergences.csv",
        "report.html",
        "report.pdf",
    ]
    text = "\n".join(page.extract_text() for page in PdfReader(folder / "report.pdf").pages)
    for words in ("Case 14", "south crate", "stuck low", "U14 exchanged", "1973, week 38", "fewer than 1.0 % would"):
        assert words in text.replace("\u00a0", " "), words

    card = tmp_path / "card.pdf"
    run("card", path, "--signal", "D03", "--out", str(card))
    assert "Bench card 14-1" in PdfReader(card).pages[0].extract_text()
    assert read(path)[0].cards[0].number == "14-1"
    capsys.readouterr()
    run("earlier", str(tmp_path), "warm", "--part", "7474", "--slot", "7")
    assert "part 7474" in capsys.readouterr().out
    assert main(["earlier", str(tmp_path), "nothing of the kind"]) == 1


def test_a_case_whose_captures_are_away_reports_what_was_kept(path: str, tmp_path: Path, capsys) -> None:
    away = tmp_path / "away"
    away.mkdir()
    for side, files in (("good", CASE.good), ("suspect", CASE.suspect)):
        copy = away / f"{side}.csv"
        copy.write_bytes(files[0].read_bytes())
        assert main(["attach", path, str(copy), "--new", "--side", side, "--inside", "0"]) == 0
        copy.unlink()
    assert main(["enter", path, "Stops"]) == 0
    capsys.readouterr()
    assert main(["report", path, "--out", str(tmp_path / "report")]) == 0
    said = capsys.readouterr().err
    assert "is not there; it stays outside this case" in said
    text = PdfReader(tmp_path / "report" / "report.pdf").pages[0].extract_text()
    assert "Stops" in text


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("enter", "{}", "x"), "there is no such case"),
        (("log", "{}"), "there is no such case"),
        (("attach", "{}", "a.csv"), "Which side are these captures of?"),
        (("attach", "{}"), "Nothing to attach"),
        (("open", "{}", "--good-unit", "a,b,c,d,e"), "found 5 parts; expected at most NAME, SLOT, SERIAL, NOTE"),
        (("rescue", "{}", "x"), "there is no such file"),
    ],
)
def test_what_cannot_be_done_is_told(
    path: str, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], sentence: str
) -> None:
    assert main([word.format(path) for word in words]) == 2
    said = capsys.readouterr().err
    assert sentence in said
    assert len(said.strip().splitlines()) == 1


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--because", "9"), "There is no entry 9 in the log; it has 0"),
        (("--state", "verified"), "Verified needs a proof line in the log"),
        (("--proof", "5/3"), "more captures diverge than there are"),
        (("--proof", "none"), "expected DIVERGING/CAPTURES"),
        (("--reading", "a,b"), "expected WHERE, GOOD, SUSPECT"),
        (("--part", "a"), "expected PART, FROM, TO"),
        (("--signal", "D03"), "needs a cycle"),
        (("--picture", __file__), "found no picture"),
    ],
)
def test_a_line_that_cannot_be_taken_leaves_the_log_as_it_was(
    path: str, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], sentence: str
) -> None:
    assert main(["open", path]) == 0
    assert main(["enter", path, "x", *words]) == 2
    assert sentence in capsys.readouterr().err
    assert read(path)[0].entries == ()


def test_a_large_capture_is_linked(path: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["attach", path, str(CASE.good[0]), "--new", "--side", "good", "--inside", "0"]) == 0
    assert "1 of them stay outside the case" in capsys.readouterr().err


def test_rescue_says_what_came_back(path: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["open", path, "--title", "South crate"]) == 0
    assert main(["enter", path, "Stops"]) == 0
    with open(path, "r+b") as file:
        file.write(bytes(4096))
    assert main(["log", path]) == 2
    assert "Recover what can be read: twinslot rescue" in capsys.readouterr().err
    new = tmp_path / "new.twinslot"
    assert main(["rescue", path, str(new)]) == 0
    assert "South crate; 1 log entries" in capsys.readouterr().err
    assert read(str(new))[0].entries[0].text == "Stops"


def test_a_mistyped_case_is_not_made(path: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["attach", path, str(CASE.good[0]), "--side", "good"]) == 2
    assert "there is no such case. Check the name" in capsys.readouterr().err
    assert not Path(path).exists()


def test_the_log_tells_what_hangs_on_an_entry(path: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["open", path]) == 0
    more = ("--reading", "6-B22 to 7-B04, 0.2, 180", "--part", "7474, slot 7 U14, bag 14-1", "--cycle", "1004")
    assert main(["enter", path, "U14 exchanged", "--kind", "done", *more, "--state", "repaired", "--by", "R."]) == 0
    words = ("--kind", "result", "--helped", "yes", "--proof", "0/300", "--because", "1")
    assert main(["enter", path, "Runs again", *words]) == 0
    capsys.readouterr()
    assert main(["log", path]) == 0
    out = capsys.readouterr().out
    for told in (
        "repaired: ",
        "At good cycle 1 004.",
        "6-B22 to 7-B04: known-good 0.2 ohm, suspect 180 ohm",
        "Part moved: 7474 from slot 7 U14 to bag 14-1",
        "result, helped: Runs again",
        "0 of 300 captures diverge; with 95 % confidence fewer than 1.0 % would.",
        "Because of entry 1.",
    ):
        assert told.replace(" ", "") in out.replace("\u202f", "").replace(" ", ""), told


@pytest.mark.parametrize("command", ["open", "attach", "enter", "log", "report", "card", "rescue"])
def test_the_help_of_a_command_states_its_exit_status(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([command, "--help"]) == 0
    assert "Exit status: 0 done, 2 trouble." in capsys.readouterr().out


def test_a_case_keeps_what_is_left_out(path: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["attach", path, "--new", "--leave-out", "RFSH || WAIT"]) == 0
    assert read(path)[0].settings.qualifier == "RFSH || WAIT"
    assert main(["attach", path, "--leave-out", "RFSH ||"]) == 2
    assert main(["attach", path, "--leave-out", ""]) == 0
    assert read(path)[0].settings.qualifier is None


def test_a_case_keeps_a_wire_list_and_undo_takes_it_back(
    path: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wires = tmp_path / "slot7_wires.csv"
    wires.write_text("part,kind,output,inputs\nU7,register,SEQ2,D03 RUN\nU9,open collector,D02,SEQ2\n")
    assert main(["attach", path, "--new", "--wires", str(wires)]) == 0
    case, words = read(path)
    assert case.wire_list is not None
    assert [(r.part, r.kind, r.inputs) for r in case.wire_list.rows] == [
        ("U7", "register", ("D03", "RUN")),
        ("U9", "open collector", ("SEQ2",)),
    ]
    assert words[-1] == "use a wire list"
    wires.write_text("part,kind,output,inputs\nU7,latch,SEQ2,D03\n")
    assert main(["attach", path, "--wires", str(wires)]) == 2
    assert "line 2" in capsys.readouterr().err
    assert read(path)[0].wire_list == case.wire_list
    store = CaseStore.open(path)
    try:
        store.undo()
        assert store.read().wire_list is None
        store.redo()
        assert store.read().wire_list == case.wire_list
    finally:
        store.close()
    assert main(["attach", path, "--wires", ""]) == 0
    assert read(path)[0].wire_list is None

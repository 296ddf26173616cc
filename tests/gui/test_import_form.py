"""Files that do not say what they are: looked at, said, taken; or left."""

from __future__ import annotations

import gzip
from fractions import Fraction
from pathlib import Path

import pytest
from PySide6.QtCore import Qt

from app.case.read_settings import read_settings_of
from app.case.shelf import Shelf
from app.case.values import HeldCapture
from app.model.import_memory import proposed, remember
from app.model.import_preview import preview
from app.model.raw_text import lines_around
from app.shell.window import Window
from app.widgets.forms.import_form import ImportForm
from tests.readers.samples import SAMPLES
from tracecore.own_names import CYCLE_ROWS
from tracecore.readers import read_capture
from tracecore.readers.settings import ReadSettings


@pytest.fixture
def bare(tmp_path: Path) -> Path:
    """Rows without a rate."""
    path = tmp_path / "bare.csv"
    path.write_text("a,b\n" + "0,1\n1,0\n" * 40, "utf-8")
    return path


def form_of(qtbot, window: Window) -> ImportForm:
    """The form that is open, once it has looked at all its files."""
    qtbot.waitUntil(lambda: any(f.isVisible() for f in window.findChildren(ImportForm)), timeout=120_000)
    form = next(f for f in window.findChildren(ImportForm) if f.isVisible())
    looked(qtbot, window, form)
    return form


def looked(qtbot, window: Window, form: ImportForm) -> None:
    def done() -> bool:
        return window.jobs.idle and all(
            p in form.previews and form.previews[p].wish == w for p, w in form.wishes.items()
        )

    qtbot.waitUntil(done, timeout=120_000)


def say(qtbot, window: Window, form: ImportForm, field: str, text: str) -> None:
    """Types into a field of the choices."""
    getattr(form.choices, field).setText(text)
    getattr(form.choices, field).textEdited.emit(text)
    looked(qtbot, window, form)


def test_a_file_without_a_rate_is_asked_about_and_taken_with_the_one_that_is_said(
    qtbot, window: Window, bare: Path
) -> None:
    window.files.open_captures("good", [bare])
    form = form_of(qtbot, window)
    assert "no sample rate" in form.sentence.text()
    assert "sample rate" in form.previews[bare].lacks
    assert not form.take.isEnabled()
    say(qtbot, window, form, "rate", "soon")
    assert "Sample rate" in form.sentence.text()
    assert not form.take.isEnabled()
    # a bare number could be hertz or megahertz: it is asked for
    say(qtbot, window, form, "rate", "24")
    assert "24 of what?" in form.sentence.text()
    assert not form.take.isEnabled()
    say(qtbot, window, form, "rate", "24 MHz")
    assert form.take.isEnabled()
    assert [form.table.item(r, 0).text() for r in range(2)] == ["a", "b"]
    assert form.table.item(0, 3).text().startswith("0 1 0 1")
    form.accept()
    qtbot.waitUntil(lambda: bool(window.session.case.good.captures) and window.jobs.idle, timeout=120_000)
    (held,) = window.session.case.good.captures
    assert held.resolution_ps == 41_667
    # the case reads it again in the same way
    assert Shelf(window.session.store).load(held).resolution_ps == 41_667


def test_enter_in_a_field_never_leaves_the_form(qtbot, window: Window, bare: Path) -> None:
    window.files.open_captures("good", [bare])
    form = form_of(qtbot, window)
    qtbot.keyClick(form.choices.rate, Qt.Key.Key_Return)
    assert form.isVisible()
    say(qtbot, window, form, "rate", "24 MHz")
    qtbot.keyClick(form.choices.rate, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: bool(window.session.case.good.captures) and window.jobs.idle, timeout=120_000)


def test_files_that_come_while_others_are_read_wait_for_them(
    qtbot, window: Window, bench_files: dict[str, Path]
) -> None:
    for side in ("good", "suspect", "good"):
        window.files.open_captures(side, [bench_files["good"]])
    qtbot.waitUntil(lambda: len(window.session.case.captures) == 3 and window.jobs.idle, timeout=120_000)
    for side in ("good", "suspect"):
        window.files.open_captures(side, [bench_files["bad"]])
    window.do_stop()
    qtbot.wait(200)
    qtbot.waitUntil(lambda: window.jobs.idle, timeout=120_000)
    assert len(window.session.case.captures) == 3


def test_a_case_that_is_opened_with_an_unclear_file_asks_about_it_and_goes_on(
    qtbot, window: Window, tmp_path: Path, bench_files: dict[str, Path]
) -> None:
    bare = tmp_path / "bare.csv"
    bare.write_text(bench_files["bad"].read_text("utf-8").partition("\n")[2], "utf-8")
    window.files.open_case([bench_files["good"]], [bare], bench_files["sheet"], title="Test case")
    form = form_of(qtbot, window)
    assert form.current == bare
    say(qtbot, window, form, "rate", "24 MHz")
    form.accept()
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=120_000)
    assert (window.current, window.session.case.title) == ("compare", "Test case")
    assert window.session.chosen.signal == "D03"


def test_a_form_that_is_left_takes_nothing(qtbot, window: Window, bare: Path, bench_files: dict[str, Path]) -> None:
    window.files.open_captures("good", [bench_files["good"], bare])
    form = form_of(qtbot, window)
    assert form.current == bare
    form.leave.click()
    qtbot.wait(50)
    assert window.session.case.good.captures == ()
    assert window.jobs.idle


def test_an_error_shows_the_raw_line_with_its_cell_marked(qtbot, window: Window, tmp_path: Path) -> None:
    path = tmp_path / "torn.csv"
    path.write_text("# Sample rate: 24 MHz\na,b\n" + "0,1\n1,0\n" * 4 + "0,Q\n" + "0,1\n" * 30, "utf-8")
    window.files.open_captures("suspect", [path])
    form = form_of(qtbot, window)
    assert form.raw.marked_text() == "Q"
    assert form.sentence.text().startswith("Line 11, column 2") or "'Q'" in form.sentence.text()
    assert not form.take.isEnabled()
    form.reject()


def test_a_broken_file_leaves_the_case_untouched(qtbot, compared: Window, bench_files: dict[str, Path]) -> None:
    case, comparison = compared.session.case, compared.session.comparison
    compared.files.open_captures("suspect", [bench_files["good"], bench_files["broken"]])
    form = form_of(qtbot, compared)
    assert form.current == bench_files["broken"]
    assert form.previews[form.current].mark.line == 53
    assert compared.session.case is case
    assert compared.session.comparison is comparison
    # without the broken one the other is taken
    form._item(bench_files["broken"]).setCheckState(form._item(bench_files["good"]).checkState().Unchecked)
    assert form.take.isEnabled()
    form.accept()
    qtbot.waitUntil(lambda: len(compared.session.case.suspect.captures) == 2 and compared.jobs.idle, timeout=120_000)


def test_a_line_far_down_a_zipped_file_is_shown_with_its_neighbours(tmp_path: Path) -> None:
    path = tmp_path / "long.csv.gz"
    rows = ["# Sample rate: 1 MHz", "a,b", *(["0,1", "1,0"] * 30_000)]
    rows[50_000] = "0,7"
    path.write_bytes(gzip.compress("\n".join(rows).encode()))
    assert [(line.number, line.text) for line in lines_around(path, 50_001, 1)] == [
        (50_000, "1,0"),
        (50_001, "0,7"),
        (50_002, "1,0"),
    ]


@pytest.mark.parametrize(
    ("text", "wish", "lacks", "first"),
    [
        ("time,a,b\n0,0,1\n10,1,0\n30,0,1\n", ReadSettings(), "time unit", None),
        ("time,a,b\n0,0,1\n10,1,0\n30,0,1\n", ReadSettings(time_unit="us"), "", "0 1 0"),
        ("time,a,b\n0,0,1\n10,1,0\n30,0,1\n", ReadSettings(time_unit="us", first_row=3), "", "1 0"),
        ("a;b\n0;1\n1;0\n", ReadSettings(sample_rate_hz=Fraction(1000), delimiter=";"), "", "0 1"),
        ("a;b\n0;1\n1;0\n", ReadSettings(sample_rate_hz=Fraction(1000), delimiter="\t"), "", None),
        ("Time (s),CH1 (V)\n0.0,0.5\n0.1,1.5\n0.2,2.5\n", ReadSettings(volt_scale=Fraction(10)), "", "5  15  25"),
    ],
)
def test_what_is_said_decides_what_the_lines_are_taken_for(
    tmp_path: Path, text: str, wish: ReadSettings, lacks: str, first: str | None
) -> None:
    path = tmp_path / "capture.csv"
    path.write_text(text, "utf-8")
    seen = preview(path, wish)
    assert (seen.lacks, seen.ready) == (lacks, first is not None)
    assert (seen.channels[0].first if seen.channels else None) == first


def test_files_of_one_shape_share_what_is_said_and_the_next_one_is_proposed_it(
    qtbot, window: Window, tmp_path: Path
) -> None:
    paths = [tmp_path / f"run{i}.csv" for i in range(3)]
    for i, path in enumerate(paths):
        path.write_text("a,b\n" + "0,1\n1,0\n" * (20 + i), "utf-8")
    window.files.open_captures("suspect", paths[:2])
    form = form_of(qtbot, window)
    say(qtbot, window, form, "rate", "2 MHz")
    assert form.take.isEnabled()
    form.accept()
    qtbot.waitUntil(lambda: len(window.session.case.suspect.captures) == 2 and window.jobs.idle, timeout=120_000)
    window.files.open_captures("suspect", paths[2:])
    again = form_of(qtbot, window)
    assert again.sentence.text().startswith("As the last file of this shape")
    assert again.wishes[paths[2]].sample_rate_hz == 2_000_000
    assert window.session.case.suspect.captures[-1].name != "run2.csv"
    again.reject()


def test_a_folder_with_other_files_offers_only_its_captures(
    qtbot, window: Window, tmp_path: Path, bench_files: dict[str, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "run.csv").write_bytes(bench_files["good"].read_bytes())
    (tmp_path / "README.md").write_text("Captured in spring.\n", "utf-8")
    monkeypatch.setattr("app.shell.capture_actions.QFileDialog.getExistingDirectory", lambda *_: str(tmp_path))
    window.act("open_good_folder")
    form = form_of(qtbot, window)
    assert form.ticked() == (tmp_path / "run.csv",)
    assert form.take.isEnabled()
    form.accept()
    qtbot.waitUntil(lambda: len(window.session.case.good.captures) == 1 and window.jobs.idle, timeout=120_000)


def test_files_are_looked_into_on_request_and_the_side_is_chosen_there(
    qtbot, window: Window, bench_files: dict[str, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    chosen = ([str(bench_files["good"])], "")
    monkeypatch.setattr("app.shell.capture_actions.QFileDialog.getOpenFileNames", lambda *_: chosen)
    window.act("look_first")
    form = form_of(qtbot, window)
    assert form.previews[form.current].ready
    form.sides.button(1).setChecked(True)
    form.accept()
    qtbot.waitUntil(lambda: len(window.session.case.suspect.captures) == 1 and window.jobs.idle, timeout=120_000)


def test_how_a_capture_is_read_can_be_changed_from_its_card(qtbot, window: Window, bare: Path) -> None:
    window.files.open_captures("good", [bare], {bare: ReadSettings(sample_rate_hz=Fraction(10**6))})
    qtbot.waitUntil(lambda: bool(window.session.case.good.captures) and window.jobs.idle, timeout=120_000)
    page = window.pages["captures"]
    page._describe("good", 0, "warm", "on the extender", "")
    page._deed("good", "look", 0)
    form = form_of(qtbot, window)
    assert form.choices.rate.text() == "1 MHz"
    say(qtbot, window, form, "rate", "2 MHz")
    form.accept()
    qtbot.waitUntil(
        lambda: window.session.case.good.captures[0].resolution_ps == 500_000 and window.jobs.idle, timeout=120_000
    )
    (held,) = window.session.case.good.captures
    assert (held.name, held.note) == ("warm", "on the extender")
    assert window.session.undo() == "replace a capture"
    assert window.session.case.good.captures[0].resolution_ps == 1_000_000


def test_a_capture_whose_file_is_gone_is_looked_into_as_it_lies_in_the_case(
    qtbot, window: Window, bare: Path, tmp_path: Path
) -> None:
    window.files.open_captures("good", [bare], {bare: ReadSettings(sample_rate_hz=Fraction(10**6))})
    qtbot.waitUntil(lambda: bool(window.session.case.good.captures) and window.jobs.idle, timeout=120_000)
    window.files.keep_as(tmp_path / "case.twinslot")
    qtbot.waitUntil(lambda: window.jobs.idle, timeout=120_000)
    bare.unlink()
    window.pages["captures"]._deed("good", "look", 0)
    form = form_of(qtbot, window)
    assert form.choices.rate.text() == "1 MHz"
    say(qtbot, window, form, "rate", "4 MHz")
    form.accept()
    qtbot.waitUntil(
        lambda: window.session.case.good.captures[0].resolution_ps == 250_000 and window.jobs.idle, timeout=120_000
    )
    (held,) = window.session.case.good.captures
    assert (held.name, held.path) == ("bare.csv", str(bare))


def test_a_wish_survives_as_text(window: Window) -> None:
    wish = ReadSettings(Fraction(24_000_000, 7), "change rows", "\t", 4, "ns", 8, Fraction(10))
    remember(window.settings, "shape", wish)
    assert proposed(window.settings, "shape") == wish
    assert proposed(window.settings, "other") is None
    held = HeldCapture("k", "n", "", "", 0, "r", 1, 0, 1, (), (), (), str(wish.sample_rate_hz), "change rows")
    assert read_settings_of(held) == ReadSettings(Fraction(24_000_000, 7), "change rows")


@pytest.mark.parametrize("name", SAMPLES)
def test_a_look_tells_of_every_sample_what_reading_it_tells(tmp_path: Path, name: str) -> None:
    path = tmp_path / "sample"
    path.write_text(SAMPLES[name].text, "utf-8")
    seen, capture = preview(path, ReadSettings()), read_capture(path)
    assert seen.ready
    assert tuple(channel.name for channel in seen.channels) == capture.channels
    assert {channel.name for channel in seen.channels if channel.kind == "volts"} == set(capture.analog)
    assert all(channel.first for channel in seen.channels)
    assert (seen.layout in seen.layouts, seen.layout) == (True, capture.reader)


def test_words_whose_base_is_not_evident_are_asked_about_and_taken_with_the_one_that_is_said(
    qtbot, window: Window, tmp_path: Path
) -> None:
    path = tmp_path / "words.csv"
    path.write_text("# Sample rate: 1 MHz\nBUS,CLK\n" + "".join(f"{i % 64:02o},{i & 1}\n" for i in range(200)), "utf-8")
    window.files.open_captures("good", [path])
    form = form_of(qtbot, window)
    assert form.previews[path].lacks == "word base"
    assert form.sentence.text().endswith("Choose it under Words are in.")
    assert form.choices.word_base.isVisible()
    assert not form.take.isEnabled()
    form.choices.word_base.setCurrentIndex(form.choices.word_base.findData(8))
    looked(qtbot, window, form)
    form.accept()
    qtbot.waitUntil(lambda: bool(window.session.case.good.captures) and window.jobs.idle, timeout=120_000)
    (held,) = window.session.case.good.captures
    assert held.channels == (*(f"BUS[{i}]" for i in (5, 4, 3, 2, 1, 0)), "CLK")
    assert read_settings_of(held).word_base == 8
    # the case reads it again in the same way
    assert Shelf(window.session.store).load(held).channels == held.channels


def test_rows_that_the_boards_own_clock_took_need_no_rate(qtbot, window: Window, tmp_path: Path) -> None:
    path = tmp_path / "listing.csv"
    path.write_text("A,B\n" + "".join(f"{i & 1},{i >> 1 & 1}\n" for i in range(200)), "utf-8")
    window.files.open_captures("good", [path])
    form = form_of(qtbot, window)
    assert form.previews[path].lacks == "sample rate"
    assert "choose cycle rows" in form.sentence.text()
    form.choices.layout_box.setCurrentIndex(form.choices.layout_box.findData(CYCLE_ROWS))
    looked(qtbot, window, form)
    assert [channel.first[:7] for channel in form.previews[path].channels] == ["0 1 0 1", "0 0 1 1"]
    # the signal that counts the rows is none of the file's
    assert form.previews[path].sentence == "Taken as cycle rows · a row is a cycle · 2 channels."
    form.accept()
    qtbot.waitUntil(lambda: bool(window.session.case.good.captures) and window.jobs.idle, timeout=120_000)
    (held,) = window.session.case.good.captures
    # the case reads it again in the same way
    assert Shelf(window.session.store).load(held).row_is_cycle


@pytest.mark.parametrize("first_row", [None, 4, 5])
def test_names_and_the_first_row_are_shown_below_a_preamble(tmp_path: Path, first_row: int | None) -> None:
    path = tmp_path / "capture.csv"
    rows = "".join(f"{i * 0.05:.2f};{i % 2};0;{7 * i % 256:02X}\n".replace(".", ",") for i in range(40))
    path.write_text("Gerät;LA 16\nDatum;03.02.2031\nBild;1\nZeit [µs];CLK;RUN;BUS[7:0]\n" + rows, "utf-8")
    seen = preview(path, ReadSettings(first_row=first_row))
    assert seen.ready
    assert [column.name for column in seen.columns] == ["Zeit", "CLK", "RUN", "BUS[7:0]"]
    assert (seen.first_row, seen.shape) == (5, preview(path, ReadSettings()).shape)

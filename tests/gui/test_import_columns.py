"""The form's table of columns: kinds and factors that are said, also of a file that cannot be read without."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from app.case.read_settings import read_settings_of
from app.case.shelf import Shelf
from app.model.import_memory import proposed, remember
from app.model.import_preview import preview
from app.shell.window import Window
from app.widgets.forms.import_form import ImportForm
from tests.gui.test_import_form import form_of, looked
from tests.readers.samples import SAMPLES
from tracecore.readers.settings import ReadSettings

MIXED = "A (V),tick (us),B,W,text\n" + "".join(
    f"{i / 10:.1f},{2 * i}.0,{i % 2},{i % 16:X},note {i}\n" for i in range(40)
)
TORN = "# Sample rate: 24 MHz\na,b\n" + "0,1\n1,0\n" * 4 + "0,Q\n" + "0,1\n" * 30


def choose(qtbot, window: Window, form: ImportForm, row: int, kind: str | None, factor: str | None = None) -> None:
    """Picks a kind in a row of the table, and types a factor."""
    box, field = form.table._boxes[row]
    box.setCurrentIndex(box.findData(kind))
    looked(qtbot, window, form)
    if factor is not None:
        field.setText(factor)
        field.textEdited.emit(factor)
        qtbot.wait(200)
        looked(qtbot, window, form)


@pytest.fixture
def mixed(tmp_path: Path) -> Path:
    path = tmp_path / "mixed.csv"
    path.write_text(MIXED, "utf-8")
    return path


def test_a_file_of_mixed_columns_is_taken_as_they_are_said_and_the_case_reads_it_so_again(
    qtbot, window: Window, mixed: Path
) -> None:
    window.case_actions.look_into([mixed])
    form = form_of(qtbot, window)
    assert [form.table.item(r, 0).text() for r in range(5)] == ["A", "tick", "B", "W", "text"]
    choose(qtbot, window, form, 1, "time")
    choose(qtbot, window, form, 4, "leave out")
    choose(qtbot, window, form, 3, "word")
    choose(qtbot, window, form, 0, "volts", "10")
    assert form.previews[mixed].ready, form.sentence.text()
    assert form.table.item(0, 3).text().startswith("0  1  2")
    form.accept()
    qtbot.waitUntil(lambda: bool(window.session.case.good.captures) and window.jobs.idle, timeout=120_000)
    (held,) = window.session.case.good.captures
    assert held.channels == ("B", "W[3]", "W[2]", "W[1]", "W[0]", "A")
    said = {"tick": "time", "text": "leave out", "W": "words", "A": "volts x10"}
    assert dict(read_settings_of(held).columns) == said
    assert float(Shelf(window.session.store).load(held).analog["A"].volts[3]) == pytest.approx(3.0)
    assert dict(proposed(window.settings, preview(mixed, ReadSettings()).shape).columns) == said


def test_a_file_that_cannot_be_read_shows_its_cells_and_is_mended_by_a_choice(
    qtbot, window: Window, tmp_path: Path
) -> None:
    path = tmp_path / "torn.csv"
    path.write_text(TORN, "utf-8")
    window.files.open_captures("suspect", [path])
    form = form_of(qtbot, window)
    assert [form.table.item(r, 0).text() for r in range(2)] == ["a", "b"]
    assert form.table.item(1, 3).text().startswith("▲ Q in line 11")
    assert not form.table.item(0, 3).text().startswith("▲")
    assert not form.take.isEnabled()
    choose(qtbot, window, form, 1, "leave out")
    assert form.take.isEnabled()
    assert not form.table.item(1, 3).text().startswith("▲")
    form.accept()
    qtbot.waitUntil(lambda: bool(window.session.case.suspect.captures) and window.jobs.idle, timeout=120_000)
    assert window.session.case.suspect.captures[0].channels == ("a",)


def test_a_factor_that_is_none_is_refused_in_a_sentence(qtbot, window: Window, mixed: Path) -> None:
    window.case_actions.look_into([mixed])
    form = form_of(qtbot, window)
    choose(qtbot, window, form, 0, "volts", "ten")
    assert form.sentence.text().startswith("A, volts times: found 'ten'")
    assert not form.take.isEnabled()
    form.reject()


def test_a_kind_taken_back_leaves_the_column_to_the_file_again(qtbot, window: Window, mixed: Path) -> None:
    window.case_actions.look_into([mixed])
    form = form_of(qtbot, window)
    choose(qtbot, window, form, 2, "volts")
    assert form.wishes[mixed].columns == (("B", "volts"),)
    choose(qtbot, window, form, 2, None)
    assert form.wishes[mixed].columns == ()
    # what was said in the fields above stays
    form.choices.rate.setText("5 MHz")
    form.choices.rate.textEdited.emit("5 MHz")
    choose(qtbot, window, form, 2, "logic")
    assert form.wishes[mixed] == ReadSettings(sample_rate_hz=Fraction(5_000_000), columns=(("B", "logic"),))
    form.reject()


def test_a_choice_of_columns_survives_as_text(window: Window) -> None:
    wish = ReadSettings(
        layout="scope columns", volt_scale=Fraction(2), columns=(("CH1", "volts x10"), ("T [ns]", "time ns"))
    )
    remember(window.settings, "shape", wish)
    assert proposed(window.settings, "shape") == wish


@pytest.mark.parametrize("name", SAMPLES)
def test_every_sample_lists_its_columns_with_the_kinds_that_reading_finds(tmp_path: Path, name: str) -> None:
    path = tmp_path / "sample"
    path.write_text(SAMPLES[name].text, "utf-8")
    seen = preview(path, ReadSettings())
    assert bool(seen.columns) == (SAMPLES[name].reader != "value change dump")
    kinds = {column.name: column.kind for column in seen.columns}
    for channel in seen.channels:
        assert kinds.get(channel.name, channel.kind) == channel.kind


def test_cells_are_split_as_chosen_and_the_named_one_is_marked(tmp_path: Path) -> None:
    path = tmp_path / "capture.csv"
    path.write_text(
        "t [ns];CH1\n" + "".join(f"{i};{i % 5},{i % 10}\n" for i in range(20)) + "20;3,x\n21;1,0\n", "utf-8"
    )
    seen = preview(path, ReadSettings(columns=(("CH1", "volts"),)))
    assert not seen.ready
    assert [(c.name, c.kind, c.wrong) for c in seen.columns] == [("t", "time", ""), ("CH1", "volts", "3,x in line 22")]
    by_comma = preview(path, ReadSettings(delimiter=","))
    assert len(by_comma.columns) == 2
    assert by_comma.columns[0].first.startswith("0;0")


def test_a_dump_has_its_channels_listed_and_nothing_to_say_of_cells(qtbot, window: Window, tmp_path: Path) -> None:
    path = tmp_path / "dump.vcd"
    path.write_text(SAMPLES["value change dump"].text, "utf-8")
    window.case_actions.look_into([path])
    form = form_of(qtbot, window)
    assert form.table.item(0, 0).text() == "crate.CLK"
    assert form.table.cellWidget(0, 1) is None
    assert not form.choices.delimiter.isVisible()
    assert form.choices.layout_box.isVisible()
    form.reject()


def test_what_is_asked_for_is_no_wrong_cell(tmp_path: Path) -> None:
    path = tmp_path / "words.csv"
    path.write_text("# Sample rate: 1 MHz\nBUS,CLK\n" + "".join(f"{i % 64:02o},{i & 1}\n" for i in range(200)), "utf-8")
    seen = preview(path, ReadSettings())
    assert (seen.lacks, [column.wrong for column in seen.columns]) == ("word base", ["", ""])
    assert [column.kind for column in seen.columns] == ["word", "logic"]

"""Reading and comparing from Python: three lines, short views, tables whose columns are written down."""

from __future__ import annotations

import importlib
import json
import re
from dataclasses import replace
from fractions import Fraction
from html import escape
from html.parser import HTMLParser
from pathlib import Path

import pytest

import tracecore
import tracecore.compare.findings
from app.report.record import comparison_record
from demo_traces import CASES
from tests.test_packages import python
from tracecore import compare, read_capture, tables
from tracecore.cautions import AT_THE_PINS
from tracecore.errors import RequestError
from tracecore.short_views import MOST_ROWS

CASE = CASES["receiver"]


@pytest.fixture(scope="module")
def captures():
    return read_capture(CASE.good[0]), read_capture(CASE.suspect[0])


@pytest.fixture(scope="module")
def found(captures):
    return compare(*captures, sheet=CASE.sheet, clock=CASE.clock)


def test_the_function_is_found_although_a_room_bears_its_name():
    # the room was imported above, which sets it as an attribute of the package
    assert callable(tracecore.compare)
    assert importlib.import_module("tracecore.compare").__name__ == "tracecore.compare"
    assert set(tracecore.__all__) <= set(dir(tracecore))
    with pytest.raises(AttributeError, match="nothing"):
        tracecore.nothing  # noqa: B018


def test_importing_is_light():
    code = """
import sys
import tracecore
bare = {name.split(".")[0] for name in sys.modules}
from tracecore import read_capture, compare
print(sorted(bare & {"numpy", "pandas", "scipy"}), sorted({n.split(".")[0] for n in sys.modules} &
      {"pandas", "PySide6", "pyqtgraph", "app"}))
"""
    done = python(code)
    assert done.returncode == 0, done.stderr
    assert done.stdout.split("\n")[0] == "[] []"


def test_it_finds_what_the_one_entry_finds(found, captures):
    record = comparison_record(found)
    assert record["outcome"] == "diverges"
    assert record["causes"][0]["signal"] == CASE.planted_signal
    # paths, and several of a side
    again = compare(CASE.good[:1], [captures[1]], sheet=CASE.sheet, clock=CASE.clock, tolerance="50 ns")
    assert again.request.tolerance_ps == 50_000
    assert len(again.captures) == 1
    with pytest.raises(RequestError, match="Found int as a capture"):
        compare(1, captures[1])


@pytest.mark.parametrize("rate", ["1 MHz", 1e6, 1_000_000, Fraction(10**6)])
def test_a_rate_is_a_number_or_a_text(tmp_path, rate):
    rows = "A,B\n" + "".join(f"{i % 2},{i // 2 % 2}\n" for i in range(64))
    (tmp_path / "a.csv").write_text(rows)
    assert read_capture(tmp_path / "a.csv", sample_rate=rate).resolution_ps == 10**6


@pytest.mark.parametrize("rate", ["fast", 0, -1.0, float("nan"), float("inf"), True])
def test_what_is_no_rate_is_refused(tmp_path, rate):
    (tmp_path / "a.csv").write_text("A,B\n0,1\n1,0\n")
    with pytest.raises(ValueError, match="rate"):
        read_capture(tmp_path / "a.csv", sample_rate=rate)


def test_the_tables_have_the_columns_that_are_written_down(found):
    for name in ("signal", "cause", "divergence", "level", "capture"):
        table = getattr(found, f"{name}_table")
        assert list(table.columns) == list(getattr(tables, f"{name.upper()}_COLUMNS"))
    text = tables.signal_table(replace(found, signals=()))
    assert list(text.columns) == list(tables.SIGNAL_COLUMNS)
    assert not len(text)


def test_the_tables_hold_what_the_record_holds(found):
    record = {row["signal"]: row for row in comparison_record(found)["signals"]}
    table = found.signal_table.set_index("signal")
    assert list(table.index) == list(record)
    for signal, row in record.items():
        first = row["first_divergence"]
        assert table["verdict"][signal] == row["verdict"]
        assert table["fault_kind"][signal] == row["fault_kind"]
        assert table["diverging_cycles"][signal] == row["diverging_cycles"]
        assert (first is None) == bool(table["first_cycle"].isna()[signal])
        if first is not None:
            assert table["first_good_ps"][signal] == first["good_ps"]
        if row["skew_ps"] is not None:
            assert table["skew_ps"][signal] == row["skew_ps"]["median"]
        stretches = found.divergence_table.query("signal == @signal")
        assert stretches["cycles"].sum() == row["diverging_cycles"]
        assert (stretches["last_cycle"] - stretches["first_cycle"] + 1 == stretches["cycles"]).all()
    assert found.cause_table["signal"][0] == CASE.planted_signal
    assert found.capture_table["first"][0] is not None
    assert str(found.signal_table.dtypes["first_cycle"]) == "Int64"


def test_a_view_is_short_and_says_the_headline(found, captures):
    assert len(repr(captures[0])) < 120
    assert captures[0].name in repr(captures[0])
    assert found.outcome.headline in repr(found)
    assert "array" not in repr(found)
    page = found._repr_html_()
    assert CASE.planted_signal in page
    assert f"Probe next: {escape(found.causes[0].probe_next)}</p><p>{escape(AT_THE_PINS)}" in page
    assert len(re.findall("<tr>", page)) == 1 + min(MOST_ROWS, len(found.signals))


def test_names_from_files_are_harmless_in_a_notebook(captures):
    evil = replace(captures[0], name="<script>alert(1)</script>")
    tags: set[str] = set()

    class Tags(HTMLParser):
        def handle_starttag(self, tag, attrs):
            tags.add(tag)

    Tags().feed(evil._repr_html_())
    assert tags <= {"p", "b", "table", "tr", "td", "th"}


def test_every_column_is_described_in_a_line():
    described = {k: v for name in vars(tables) if name.endswith("_COLUMNS") for k, v in getattr(tables, name).items()}
    assert all(0 < len(text) < 100 for text in described.values())
    assert json.dumps(described)


def test_a_notebook_needs_the_file_only(tmp_path):
    with pytest.raises(tracecore.errors.CaptureFileError):
        read_capture(Path(tmp_path / "none.csv"))

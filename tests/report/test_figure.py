"""The figure of a first divergence: what it draws, told by its shapes."""

from __future__ import annotations

import csv
from xml.etree import ElementTree

import numpy as np
import pytest

from app.cli.run import demo_request
from app.report.divergences import divergences_csv
from app.report.figure import MOST_ROWS, REPORT, WIDE, View, figure_rows, figure_svg, paint_plan, plan_figure
from app.report.surface import SvgSurface
from demo_traces import CASES
from tracecore.comparison import Comparison, compare
from tracecore.tables import stretches

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module", params=[name for name, case in CASES.items() if not case.planted_in])
def compared(request: pytest.FixtureRequest) -> tuple[str, Comparison]:
    return request.param, compare(demo_request(CASES[request.param]))


def test_clock_and_signal_are_drawn_once_each_on_both_sides(compared):
    case, comparison = CASES[compared[0]], compared[1]
    rows = figure_rows(comparison, comparison.signal(case.planted_signal))
    drawn = [row.signal for row in rows]
    assert {case.clock, case.planted_signal} <= set(drawn)
    assert len(drawn) == len(set(drawn)) <= MOST_ROWS
    root = ElementTree.fromstring(figure_svg(comparison, case.planted_signal))
    assert len(root.findall(f"{SVG}polyline")) == 2 * len(rows)


def test_everything_lies_inside_and_the_marked_cycle_stands_in_words(compared):
    case, comparison = CASES[compared[0]], compared[1]
    root = ElementTree.fromstring(figure_svg(comparison, case.planted_signal))
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    for line in root.iter(f"{SVG}polyline"):
        points = np.array([p.split(",") for p in line.attrib["points"].split()], float)
        assert (points >= 0).all()
        assert (points <= (width, height)).all()
        assert (np.diff(points[:, 0]) >= 0).all()
    texts = [t.text.replace("\u202f", "") for t in root.iter(f"{SVG}text") if t.text]
    assert str(case.planted_cycle) in texts


def test_each_fault_shows_its_own_shape():
    shapes = {"receiver": f"{SVG}circle", "contact": f"{SVG}path"}
    for name, shape in shapes.items():
        case = CASES[name]
        root = ElementTree.fromstring(figure_svg(compare(demo_request(case)), case.planted_signal))
        assert root.findall(shape), name


@pytest.mark.parametrize("style", [WIDE, REPORT])
def test_words_about_a_level_stand_below_the_suspects_line(style):
    """Their letters, 12 units high, begin under the lower edge of the thick line, in low rows too."""
    case = CASES["pullup"]
    comparison = compare(demo_request(case))
    cause = comparison.causes[0]
    plan = plan_figure(comparison, cause.signal, cycle=cause.since_cycle, style=style)
    surface = SvgSurface(style.width)
    paint_plan(surface, plan)
    root = ElementTree.fromstring(surface.svg(plan.height, plan.title))
    words = [t for t in root.iter(f"{SVG}text") if t.text and t.text.startswith("slow")]
    assert words
    lows = [float(p.split(",")[1]) for line in root.iter(f"{SVG}polyline") for p in line.attrib["points"].split()]
    for told in words:
        base = float(told.attrib["y"])
        above = max(low for low in lows if low < base)
        assert base - 0.73 * 12 >= above + 1.5


def test_a_signal_that_agrees_has_no_figure(compared):
    assert figure_svg(compared[1], CASES[compared[0]].clock) == ""


def test_stretches_cover_every_diverging_cycle_once(compared):
    for s in compared[1].signals:
        covered = [c for first, last in stretches(s.diverging_cycles) for c in range(first, last + 1)]
        assert covered == s.diverging_cycles.tolist()


def test_the_table_ends_its_lines_as_the_standard_wants(compared):
    # RFC 4180, section 2: records end with CR LF, and every record has as many fields as the heading
    lines = divergences_csv(compared[1]).split("\r\n")
    assert lines[-1] == ""
    assert "\n" not in "".join(lines)
    assert {len(row) for row in csv.reader(lines[:-1])} == {lines[0].count(",") + 1}


def test_a_busy_signal_is_thinned_and_no_pulse_is_lost():
    view = View(0, 12, 0, 12_000_000, 128, 820)
    rare = np.array([1_000_000, 1_000_010, 7_000_000], np.int64)
    assert view.told_apart(rare).tolist() == [0, 1, 2]
    busy = np.arange(0, 12_000_000, 7, dtype=np.int64)
    kept = view.told_apart(busy)
    assert len(kept) <= 3 * 820 + 3
    columns = (busy * 820 // 12_000_000).tolist()
    assert {columns[i] for i in kept.tolist()} == set(columns)
    assert len(view.told_apart(busy[:0])) == 0

"""What a side's channels are called: by its own sheet, by consent, along with what was said of its leads."""

from __future__ import annotations

import pytest

from app.case.changes import AddCaptures, Begin, MoveCapture, SetSheet
from app.case.codec import decode, encode
from app.case.item_checks import check_item
from app.case.items import case_of, items_of
from app.case.record import OpenCase, SideState
from app.case.side_changes import JoinCaptures, SetSameNames, SetSideSheet, offered_names
from app.case.side_names import as_read, file_channels
from app.case.values import HeldCapture
from tracecore.circuit.probe_sheet import Probe, ProbeSheet


def held(key: str, *channels: str, **more) -> HeldCapture:
    return HeldCapture(key, f"{key}.csv", f"/b/{key}.csv", "", 0, "rows", 1, 0, 9, channels, **more)


SHEET = ProbeSheet((Probe("1", "CLK", "7", "A01"), Probe("2", "D0", "7", "A02")), "own.csv")


def test_an_own_sheet_names_all_captures_of_its_side_and_what_is_said_of_leads() -> None:
    swapped = held("a", "1", "2", "3", swaps=(("1", "2"),), inverted=("3",), unread=("2",))
    case = OpenCase(suspect=SideState((swapped,)))
    case = AddCaptures("suspect", (held("b", "1", "9"),)).applied(SetSideSheet("suspect", SHEET).applied(case))
    first, second = case.suspect.captures
    assert (first.channels, first.swaps, first.inverted, first.unread) == (
        ("CLK", "D0", "3"), (("CLK", "D0"),), ("3",), ("D0",),
    )  # fmt: skip
    assert (second.channels, file_channels(second)) == (("CLK", "9"), ("1", "9"))
    # its rows stand on the one sheet, by the names that channels have by now
    assert [p.channel for p in case.sheet.probes] == ["CLK", "D0"]
    assert SetSideSheet("suspect", None).applied(case).suspect.captures == (swapped, held("b", "1", "9"))
    assert SetSideSheet("suspect", None).applied(case).sheet.probes == ()
    # the other side's names hold for what goes over to it
    assert MoveCapture("suspect", 1).applied(case).good.captures == (held("b", "1", "9"),)
    assert as_read(first) == held("a", "1", "2", "3")
    # another sheet for both sides leaves those rows where it has none for the signal
    both = SetSheet(ProbeSheet((Probe("X", "CLK", "9"),))).applied(case)
    assert [(p.channel, p.signal) for p in both.sheet.probes] == [("X", "CLK"), ("D0", "D0")]


def test_names_are_offered_one_to_one_and_taken_only_by_consent() -> None:
    good = SideState((held("a", "MCLK", "D 0", "RQ", "A", "a"),))
    case = OpenCase(good=good, suspect=SideState((held("b", "mclk", "d0", "Pod: rq", "A_"),)))
    offered = offered_names(case)
    # of A and a nobody knows which A_ means
    assert offered == (("mclk", "MCLK"), ("d0", "D 0"), ("Pod: rq", "RQ"))
    assert case.suspect.captures[0].called == ()
    taken = SetSameNames(offered).applied(case)
    assert taken.suspect.captures[0].channels == ("MCLK", "D 0", "RQ", "A_")
    assert offered_names(taken) == ()
    assert taken.question != case.question
    assert SetSameNames(()).applied(taken) == case
    # one sheet that gives both names the same signal has said it already
    sheet = ProbeSheet((Probe("MCLK", "CK"), Probe("rq", "RQ")))
    assert ("mclk", "MCLK") in offered_names(SetSheet(sheet).applied(case))


def test_it_is_all_kept_item_by_item() -> None:
    joined = held("c", "1", "2", parts=(held("d", "2"),), parts_by="trigger")
    case = Begin(OpenCase(suspect=SideState((joined, held("b", "x"))))).applied(OpenCase())
    case = SetSameNames((("x", "X"),)).applied(SetSideSheet("suspect", SHEET).applied(case))
    again, trouble = case_of(items_of(case))
    assert (again, trouble) == (case, ())
    assert decode(HeldCapture, encode(case.suspect.captures[0])) == case.suspect.captures[0]


def test_captures_that_are_joined_leave_one_in_their_place() -> None:
    case = OpenCase(good=SideState((held("a", "A"), held("b", "B"), held("c", "C")), shown=2))
    case = JoinCaptures("good", (0, 1), held("j", "A", "B", parts=(held("b", "B"),), parts_by="trigger")).applied(case)
    assert ([c.key for c in case.good.captures], case.good.shown) == (["j", "c"], 1)
    assert len(case.good.captures[0].files) == 2


@pytest.mark.parametrize(
    "wrong",
    [
        held("a", "A", parts=(held("b", "B"),)),
        held("a", "A", parts_by="trigger"),
        held("a", "A", parts=(held("a", "B"),), parts_by="trigger"),
        held("a", "A", parts=(held("b", "B", parts=(held("c", "C"),), parts_by="trigger"),), parts_by="trigger"),
        held("a", "A", "B", called=(("x", "A"), ("y", "A"))),
    ],
)
def test_what_cannot_be_is_refused(wrong: HeldCapture) -> None:
    with pytest.raises(ValueError, match=r"joined|called"):
        check_item(("capture", "a"), wrong)

"""An invented case about the invented Linnet: from the first symptom to the proof, with all that hangs on a log."""

from __future__ import annotations

import io
from dataclasses import replace

from PIL import Image, ImageDraw

from app.case.record import OpenCase, SideState
from app.case.values import (
    BenchCard,
    CardRow,
    Entry,
    Figure,
    HeldCapture,
    Mark,
    PartMove,
    Picture,
    Proof,
    Reading,
    StateStamp,
    Unit,
)
from tracecore.capture import Capture
from tracecore.comparison import Comparison

PHOTOS = {"aa": ("#3B4A44", 1600, 1200), "bb": ("#5A4A33", 1200, 1600)}


def photo(stored: str) -> bytes:
    """A drawn stand-in for a photo of a card."""
    colour, width, height = PHOTOS[stored]
    image = Image.new("RGB", (width, height), colour)
    draw = ImageDraw.Draw(image)
    for row in range(6):
        draw.rectangle((width // 3, 100 + row * 150, width // 2, 190 + row * 150), "#111111", "#C8C8B8", 6)
    out = io.BytesIO()
    image.save(out, "JPEG", quality=80)
    return out.getvalue()


def held(capture: Capture, key: str) -> HeldCapture:
    """A capture as the case knows it."""
    return HeldCapture(
        key, capture.name, capture.path, capture.sha256, 1000, capture.reader, capture.resolution_ps, capture.start_ps,
        capture.stop_ps, capture.channels, capture.facts, note="second slot board in" if key == "s1" else "",
        taken="2026-02-03",
    )  # fmt: skip


def entries() -> tuple[Entry, ...]:
    """From the symptom to the proof."""

    def at(day: int, hour: int, minute: int = 0) -> str:
        return f"2026-02-{day:02d}T{hour:02d}:{minute:02d}:00+01:00"

    return (
        Entry(1, "seen", "South crate computes nonsense once it is warm", "R.", at(3, 9, 40)),
        Entry(2, "seen", "D03 reads low from cycle 1 004 on, in both captures", "R.", at(3, 11, 5), cycle=1004,
              because=(1,), marks=(1,)),
        Entry(3, "suspected", "D03 stuck low at 7-B04", "M.", at(3, 11, 20), cycle=1004, because=(2,),
              details="It is low from cycle 1 004 to the end.\nNo other signal goes wrong before it.",
              figure=Figure("D03", 1004, "good.csv against suspect.csv", "g1", "s1")),
        Entry(4, "measured", "6-B22 moves as good, 7-B04 stays low", "R.", at(4, 10, 10), because=(3,)),
        Entry(5, "measured", "Resistance of the net, power off", "R.", at(4, 14, 30), because=(4,),
              readings=(Reading("6-B22 to 7-B04", "0.2", "180"), Reading("7-B04 to ground, card out", "open", "open"))),
        Entry(6, "measured", "The 180 ohm were 18 ohm: the meter stood one range up", "R.", at(4, 14, 50), corrects=5,
              readings=(Reading("6-B22 to 7-B04", "0.2", "18"),)),
        Entry(7, "done", "Wire 6-B22 to 7-B04 wrapped anew", "M.", at(4, 15, 15), because=(6,), pictures=(1, 2)),
        Entry(8, "result", "Still wrong when warm", "M.", at(4, 16, 0), helped=False, because=(7,)),
        Entry(9, "suspected", "U14 on card 7 stays set; input loads the line (Ωmega 漢 🔧 ✓ µF)", "M.", at(5, 10, 15),
              because=(8,)),
        Entry(10, "done", "U14 exchanged, 7474 from the donor board", "R.", at(9, 13, 20), because=(9,), pictures=(9,)),
        Entry(11, "result", "Runs warm for a day", "R.", at(10, 17, 45), helped=True, because=(10,),
              proof=Proof(0, 300, "Cold and warm starts, 9 and 10 Feb")),
    )  # fmt: skip


def linnet_case(comparison: Comparison | None, *, more: int = 0) -> OpenCase:
    """The case; ``more`` puts so many plain lines behind the log. Without a comparison it holds no captures."""
    sides = {}
    if comparison is not None:
        request = comparison.request
        for side, captures in (("good", request.good), ("suspect", request.suspect)):
            sides[side] = SideState(tuple(held(c, f"{side[0]}{i}") for i, c in enumerate(captures, start=1)))
        sides["sheet"] = request.sheet
    log = entries()
    plain = tuple(
        replace(log[0], id=len(log) + 1 + i, text=f"Line {i + 1} of a long log: nothing new", at="2026-02-11T08:00:00")
        for i in range(more)
    )
    noon = "2026-02-09T12:00:00+01:00"
    rows = (
        CardRow(
            "off", "6-B22\nto 7-B04", "at the wrap posts", "0.2 ohm", "above 1 ohm: raised\nsource: a setting", "ohm"
        ),
        CardRow("on", "7-B04", "receiver, should move", "0.3 and 3.4 V", "low ≤ 0.8, high ≥ 2.0", "V", ("low", "high")),
    )
    card = BenchCard(1, "14-1", "D03", 1004, "D03 ends early", rows, (("18",), ("0.3", "0.6")), "contact", "warm")
    return OpenCase(
        title="South crate stops at the third fetch",
        number="14",
        opened_at="2026-02-03T09:40:00+01:00",
        opened_by="R.",
        good_unit=Unit("North crate", "L-0002", "7", "runs since 1979"),
        suspect_unit=Unit("South crate", "L-0005", "7"),
        marks=(
            Mark(1, "finding", "D03 first differs here", 1004, 1004, ("D03",), "suspect", None, None, "R.", noon),
            Mark(2, "reference", "one fetch", 990, 993, ("STB", "ACK"), start_ps=0, stop_ps=1_700_000, author="M."),
            Mark(3, "question", "why this late?", 1100, 1120),
        ),
        entries=(*log, *plain),
        pictures=(
            Picture(1, "IMG_0417.JPG", "0" * 64, "aa", 1600, 1200, "Slot 7 under the lamp", "2026:02:04 15:20:11"),
            Picture(2, "IMG_0418.JPG", "1" * 64, "bb", 1200, 1600, "The wrap post at 6-B22"),
            Picture(3, "IMG_0419.JPG", "2" * 64, "cc", 100, 100, "Lost"),
        ),
        parts=(
            PartMove(1, "7474", "donor board, position U31", "slot 7, U14", "7338", 10, noon, "R."),
            PartMove(2, "7474", "slot 7, U14", "bag 14-1, failed", "7221", 10, noon, "R."),
        ),
        stamps=(
            StateStamp(1, "open", "2026-02-03T09:40:00+01:00", "R."),
            StateStamp(2, "waiting for a part", "2026-02-05T12:00:00+01:00", "M."),
            StateStamp(3, "repaired", "2026-02-09T14:00:00+01:00", "R."),
            StateStamp(4, "verified", "2026-02-10T17:50:00+01:00", "R."),
        ),
        cards=(card,),
        **sides,
    )  # fmt: skip

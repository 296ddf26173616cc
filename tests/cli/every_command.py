"""A folder with one small file of each kind, and for each command a line that does all it can with them."""

from __future__ import annotations

import random
from pathlib import Path

from app.__main__ import main
from app.case.store import CaseStore
from tests.soak.small_captures import capture_text

SHEET = "channel,signal,slot,pin,family\nCLK,CLK,7,A01,74\nB0,B0,7,A02,74\nSUM,SUM,7,A03,74\n"
PINS = "net,slot,pin,part,part_pin,direction,note\nB0,7,A02,U1 7400,1,in,\nSUM,7,A03,U1 7400,3,out,\n"
WIRES = "part,kind,output,inputs\nU1,gate,SUM,B0 B1\n"
OHMS = "from,to,ohms,side,read_on,by,note\n7-A02,7-A03,{ohms},{side},,,\n"
STOCK = "board,position,number,date_code\ndonor 2,U9,7400,7338\n"


def volts_text(seed: int) -> str:
    """Two channels of an oscilloscope, 400 samples, as columns with a time."""
    chance, rows = random.Random(seed), []
    for n in range(400):
        high, late = n // 8 % 2, (n - 1) // 16 % 2
        rows.append(
            f"{n * 1e-8:.3e},{3.4 * high + 0.2 + chance.gauss(0, 0.02):.3f},{3.2 * late + chance.gauss(0.2, 0.02):.3f}"
        )
    return "time (s),CLK (V),B0 (V)\n" + "\n".join(rows) + "\n"


def clip_text(seed: int) -> str:
    """A 7400 under a clip: its first gate follows its inputs."""
    chance, rows, a, b = random.Random(seed), [], 0, 0
    for n in range(600):
        if n % 20 == 0:
            a, b = chance.randrange(2), chance.randrange(2)
        rows.append(f"{n * 10},{a},{b},{1 - (a & b)}")
    return "time (ns),pin 1,pin 2,pin 3\n" + "\n".join(rows) + "\n"


def fill(folder: Path) -> None:
    """Writes the files."""
    texts = {
        "good.csv": capture_text(),
        "suspect.csv": capture_text(5, wrong=True),
        "good_v.csv": volts_text(1),
        "suspect_v.csv": volts_text(2),
        "sheet.csv": SHEET,
        "pins.csv": PINS,
        "wires.csv": WIRES,
        "good_ohms.csv": OHMS.format(ohms="0.2", side="good"),
        "suspect_ohms.csv": OHMS.format(ohms="open", side="suspect"),
        "stock.csv": STOCK,
        "clip.csv": clip_text(3),
        "landing/run1.csv": capture_text(7),
    }
    for name, text in texts.items():
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, "utf-8")
    case = str(folder / "case1.twinslot")
    CaseStore.open(case).close()
    for side in ("good", "suspect"):
        assert main(["attach", case, str(folder / f"{side}.csv"), "--side", side, "--clock", "CLK"]) == 0
    (folder / "picture.png").write_bytes(_picture())


def _picture() -> bytes:
    from io import BytesIO

    from PIL import Image

    out = BytesIO()
    Image.new("RGB", (8, 6), "#446644").save(out, "PNG")
    return out.getvalue()


SIDES = ("--good", "good.csv", "--suspect", "suspect.csv", "--clock", "CLK")
VOLTS = ("--good", "good_v.csv", "--suspect", "suspect_v.csv", "--clock", "CLK")
LINES: dict[str, tuple[str, ...]] = {
    "compare": (
        *("compare", *SIDES, "--sheet", "sheet.csv", "--wires", "wires.csv"),
        *("--out", "OUT/report", "--json", "OUT/c.json", "--pair", "OUT/pair.csv"),
    ),
    "check": ("check", "good.csv", "--sheet", "sheet.csv"),
    "demo": ("demo", "--list"),
    "open": ("open", "OUT/new.twinslot", "--title", "Crate"),
    "attach": (
        *("attach", "case1.twinslot", "good_v.csv", "--side", "good", "--sheet", "sheet.csv"),
        *("--wires", "wires.csv", "--pins", "pins.csv", "--donors", "stock.csv"),
    ),
    "enter": ("enter", "case1.twinslot", "a line", "--picture", "picture.png"),
    "log": ("log", "case1.twinslot"),
    "report": ("report", "case1.twinslot", "--out", "OUT/report"),
    "card": ("card", "case1.twinslot", "--out", "OUT/card.pdf"),
    "earlier": ("earlier", ".", "Crate"),
    "rescue": ("rescue", "case1.twinslot", "OUT/rescued.twinslot"),
    "levels": ("levels", *VOLTS, "--csv", "OUT/levels.csv", "--json", "OUT/levels.json"),
    "timing": ("timing", *SIDES, "--csv", "OUT/timing.csv", "--json", "OUT/timing.json"),
    "continuity": (
        *("continuity", "--good", "good_ohms.csv", "--suspect", "suspect_ohms.csv", "--pins", "pins.csv"),
        *("--csv", "OUT/pairs.csv", "--json", "OUT/pairs.json", "--plan", "OUT/plan.pdf"),
    ),
    "part": (
        *("part", "7400", "--capture", "clip.csv", "--good", "clip.csv"),
        *("--donors", "stock.csv", "--json", "OUT/part.json"),
    ),
    "pins": ("pins", "pins.csv", "--good", "good.csv", "--suspect", "suspect.csv", "--clock", "CLK"),
    "soak": (
        *("soak", "landing", "--good", "good.csv", "--clock", "CLK"),
        *("--settle", "0", "--captures", "1", "--stop-after", "60 s", "--out", "OUT/record.csv"),
    ),
}
WRITTEN = {
    "compare": ("--json", "--pair"),
    "card": ("--out",),
    "levels": ("--csv", "--json"),
    "timing": ("--csv", "--json"),
    "continuity": ("--csv", "--json", "--plan"),
    "part": ("--json",),
    "soak": ("--out",),
}
"""The options that name a file to write."""


def line(command: str, out: str | Path) -> list[str]:
    """The words of a command, to be run in the folder, what it writes going to ``out``."""
    return [word.replace("OUT", str(out)) if word.startswith("OUT") else word for word in LINES[command]]

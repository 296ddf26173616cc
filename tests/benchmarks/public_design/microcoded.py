"""An 8-bit computer of 17 packages (GPL 3): microcode in ROM, a single bus, a table for an ALU, one edge of one clock.

    git clone https://github.com/DoctorWkt/CSCvon8 /tmp/microcoded

Its own scripts (perl, cpp) make its ROMs, and compile and assemble its example programs.
"""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

from tests.benchmarks.public_design.design import Design, Net, bits

_MAIN = "ttlcsvon8.v"


def _prepare(fetched: Path, folder: Path, program: str) -> None:
    if not folder.exists():
        shutil.copytree(fetched, folder, ignore=shutil.ignore_patterns(".git", "Docs", "Schematic"))
        for script in ("gen_ucode", "gen_alu"):
            subprocess.run(["perl", script], cwd=folder, check=True, capture_output=True)
    source = f"Examples/{program}.s"
    if not (folder / source).exists():
        subprocess.run(["perl", "clc", f"Examples/{program}.cl"], cwd=folder, check=True, capture_output=True)
    if not (folder / source).exists():
        raise FileNotFoundError(f"{fetched}: no example program {program}")
    subprocess.run(["perl", "cas", source], cwd=folder, check=True, capture_output=True)


MICROCODED = Design(
    name="microcoded",
    half_ns=230,
    sources=(_MAIN,),
    board="""
  wire [15:0] PCval;
  ttlcsvon8 DUT(clk, reset, PCval);
""",
    nets=(
        Net(_MAIN, "DUT", "Aval", "databus, Aval);", 8),
        Net(_MAIN, "DUT", "Bval", "databus, Bval);", 8),
        Net(_MAIN, "DUT", "IRval", "databus, IRval);", 8),
        Net(_MAIN, "DUT", "uSval", "uSeq_unused, uSval);", 4),
        Net(_MAIN, "DUT", "controlbus", "Decoder(Decodeindex, controlbus,", 16),
        Net(_MAIN, "DUT", "databus", "assign databus=", 8),
        Net(_MAIN, "DUT", "RAMresult", "MEMena, RAMresult);", 8),
        Net(_MAIN, "DUT", "Aload", "assign #(5, 5) Aload="),
        Net(_MAIN, "DUT", "MEMload", "assign \t MEMload="),
        Net(_MAIN, "DUT", "ALload", "assign #(5, 5) ALload="),
        Net(_MAIN, "DUT", "PCload_bar", "JumpOp, PCload, PCload_bar);"),
        Net(_MAIN, "DUT", "PCcarry", "1'b0, PCcarry, PCloval,"),
    ),
    buses={
        **bits("address", "DUT.addressbus", 16),
        **bits("PC", "DUT.PCval", 16),
        **bits("ALU", "DUT.ALUresult", 13),
        **{s: f"DUT.{s}" for s in ("IRload", "Bload", "AHload", "MEMena", "ALUena")},
        "RESET": "reset",
    },
    programs=("example03", "example05", "example07", "example09", "example10", "minsky", "ttt", "wktlife", "triangle"),
    prepare=_prepare,
)

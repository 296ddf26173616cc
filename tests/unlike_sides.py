"""A pair of runs whose files differ from side to side: two files each, the suspect's channels called otherwise."""

from __future__ import annotations

from pathlib import Path

from tests.plant import Fault, Plant, Side
from tracecore.circuit.probe_sheet import Probe, write_probe_sheet


def columns(side: Side, names: dict[str, str]) -> str:
    """Sampled rows of some signals, each under the name given here."""
    rate, head, *rows = side.as_sampled_rows().decode().splitlines()
    there = head.split(",")
    places = [there.index(signal) for signal in names]
    cells = (row.split(",") for row in rows if row)
    return "\n".join([rate, ",".join(names.values()), *(",".join(row[p] for p in places) for row in cells)]) + "\n"


def unlike_sides(folder: Path) -> dict[str, str]:
    """D01 stays low on the suspect. Two files a side of one trigger, ``own`` is the suspect's sheet for the first, the
    names of the second differ from the known-good ones by a prefix and case."""
    pair = Plant(seed=3, cycles=700, offset_cycles=5).faulty(Fault("stuck low", "D01", 300))
    signals = list(pair.good.pins)
    one, two = signals[: len(signals) // 2], signals[len(signals) // 2 :]
    made = {
        "good1": columns(pair.good, {s: s for s in one}),
        "good2": columns(pair.good, {s: s for s in two}),
        "bad1": columns(pair.suspect, {s: f"ch{i}" for i, s in enumerate(one)}),
        "bad2": columns(pair.suspect, {s: f"Pod 2: {s.lower()}" for s in two}),
        "own": write_probe_sheet([Probe(f"ch{i}", s, "7", f"B{i:02}") for i, s in enumerate(one)]),
    }
    paths = {}
    for name, text in made.items():
        path = folder / f"{name}.csv"
        path.write_text(text, "utf-8")
        paths[name] = str(path)
    return paths

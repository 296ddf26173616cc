"""The wire list of the invented machine, as one who keeps it would write it down.

``ACC``, ``TMP`` and the store's cells reach no clip; the list names them all the same.
"""

from __future__ import annotations

from tests.machine.board import SINGLE
from tracecore.circuit.wire_list import Kind, Wired, WireList

_CONTROL = tuple(n for n in SINGLE if n[0] in "EL" or n in ("WRITE", "COUNT", "DOWN", "LAST", "LFLAG"))
_CODE = (*(f"IR{i}" for i in range(4)), *(f"T{i}" for i in range(3)))


def wire_list(plain: bool = False) -> WireList:
    """The list; ``plain`` as it is written without kinds for what has an enable or a state inside."""
    held: Kind = "register" if plain else "enabled register"
    store: Kind = "gate" if plain else "memory"
    rom: Kind = "gate"  # what is read hangs on the address alone
    rows: list[Wired] = []

    def put(part: str, kind: Kind, output: str, *inputs: str) -> None:
        rows.append(Wired(part, kind, output, inputs))

    for i in range(8):
        bus, cells = f"BUS{i}", tuple(f"ADDR{b}" for b in range(8))
        for source, own in (
            ("PC", f"PC{i}"),
            ("ACC", f"ACC{i}"),
            ("X", f"X{i}"),
            ("ALU", f"ALU{i}"),
            ("PORT", f"IN{i}"),
        ):
            put(f"U{source}DRV", "three-state", bus, own, f"E{source}")
        put("USTORE", "three-state", bus, f"MEM{i}", "EMEM")
        put("UCELLS", store, f"MEM{i}", *cells, "WRITE", bus)
        put("UALU", "gate", f"ALU{i}", f"ACC{i}", f"TMP{i}", *_CODE[:4])
        for part, output, load in (
            ("UMAR", f"ADDR{i}", "LMAR"),
            ("UOUT", f"OUTR{i}", "LOUT"),
            ("UACC", f"ACC{i}", "LACC"),
        ):
            put(part, held, output, bus, load)
        put("UTMP", held, f"TMP{i}", bus, "LTMP")
        put("UPC", held, f"PC{i}", bus, "LPC", "COUNT", "RESET", *(f"PC{b}" for b in range(i)))
    for i in range(4):
        put("UIR", held, f"IR{i}", f"BUS{i + 4}", "LIR")
    for i in range(3):
        put("USTEP", held, f"T{i}", "LAST", "WAIT", "RFSH", "RESET", *(f"T{b}" for b in range(i)))
    for net in _CONTROL:
        put("UROM", rom, net, *_CODE)
    put("UFLAG", held, "Z", "LFLAG", "DOWN", *(f"ALU{i}" for i in range(8)))
    put("UFLAG", held, "C", "LFLAG", "CARRY")
    put("UWAIT", store, "WAIT", "EMEM", *(f"ADDR{b}" for b in range(8)))
    return WireList(tuple(rows))

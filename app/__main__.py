"""Entry of ``twinslot`` and of ``python -m app``."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence


def main(argv: Sequence[str] | None = None) -> int:
    """Runs one command; the exit status is 0 no divergence, 1 divergence, 2 trouble, as POSIX has it for diff."""
    _open_closed_streams()
    try:
        from app.cli.run import run

        return run(sys.argv[1:] if argv is None else list(argv))
    except KeyboardInterrupt:
        return 130


def _open_closed_streams() -> None:
    """Leads the three standard streams to nowhere where they are closed.

    Else the next file that is opened, a case even, would take their number, and whatever a library says be written
    into it.
    """
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            # the lowest free number is the one that is given
            os.open(os.devnull, os.O_RDWR)
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: SIM115 - open until the end


if __name__ == "__main__":
    sys.exit(main())

"""Entry of ``twinslot`` and of ``python -m app``."""

from __future__ import annotations

import sys
from collections.abc import Sequence


def main(argv: Sequence[str] | None = None) -> int:
    """Runs one command; the exit status is 0 no divergence, 1 divergence, 2 trouble, as POSIX has it for diff."""
    try:
        from app.cli.run import run

        return run(sys.argv[1:] if argv is None else list(argv))
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main())

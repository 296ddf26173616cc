"""What a file form has no room for, carried in a comment that the readers know: resolution, end, zero of time."""

from __future__ import annotations

import re
from dataclasses import dataclass

_FACT = re.compile(r"(resolution|end|zero) (-?\d{1,18}) ps")
_BELOW = re.compile(r"names below (\S+)")
_MARK = "Twinslot:"


@dataclass(frozen=True, slots=True)
class Carried:
    """``stop_ps`` is the end of the capture, ``zero_ps`` what stands as time 0 in the file, ``scope`` the scope
    that is no part of the channels' names. None or empty where the comment does not say."""

    resolution_ps: int | None = None
    stop_ps: int | None = None
    zero_ps: int = 0
    scope: str = ""

    def text(self) -> str:
        """The comment.

        >>> Carried(1000, 5000, 0, "capture").text()
        'Twinslot: resolution 1000 ps, end 5000 ps, zero 0 ps, names below capture'
        """
        facts = [f"resolution {self.resolution_ps} ps", f"end {self.stop_ps} ps", f"zero {self.zero_ps} ps"]
        return f"{_MARK} " + ", ".join(facts + ([f"names below {self.scope}"] if self.scope else []))


NOTHING_CARRIED = Carried()


def carried(comment: str) -> Carried | None:
    """What a comment carries; None where it is not one of ours.

    >>> carried("Twinslot: resolution 1000 ps, end 5000 ps, zero -40 ps").stop_ps
    5000
    """
    text = " ".join(comment.split())
    if not text.startswith(_MARK):
        return None
    facts = {word: int(number) for word, number in _FACT.findall(text)}
    below = _BELOW.search(text)
    resolution = facts.get("resolution")
    return Carried(
        resolution if resolution is not None and resolution > 0 else None,
        facts.get("end"),
        facts.get("zero", 0),
        below[1] if below else "",
    )

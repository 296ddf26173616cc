"""The same file twice: it counts once on a side, and on both sides it would compare a board with itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from tracecore.capture import Capture
from tracecore.compare.request import CompareRequest
from tracecore.errors import RequestError
from tracecore.notices import Notice, notice


def each_once(request: CompareRequest) -> tuple[CompareRequest, tuple[Notice, ...]]:
    """The request with each capture once a side, known by SHA-256, and what is to be told of that.

    Raises RequestError where a file is on both sides and ``same_file`` does not say that it is meant.
    """
    both = {c.sha256: c for c in request.good if c.sha256}
    shared = next((c for c in request.suspect if c.sha256 in both), None)
    notices = []
    if shared is not None:
        good = both[shared.sha256]
        if not request.same_file:
            raise RequestError(
                f"{shared.name} on the suspect side is the same file, byte for byte, as {good.name} on the known-good "
                "side; expected two captures. Replace one, or allow the same file for a self-test (--same-file)."
            )
        text = f"Both sides hold the same file ({good.name}): this tests the program, not a board."
        notices.append(notice("self_test", text))
    sides = []
    for captures in (request.good, request.suspect):
        first: dict[str, Capture] = {}
        kept = []
        for capture in captures:
            known = first.get(capture.sha256) if capture.sha256 else None
            if known is None:
                first[capture.sha256] = capture
                kept.append(capture)
            else:
                text = f"{capture.name} has the same bytes as {known.name}: it counts once."
                notices.append(notice("same_bytes", text))
        sides.append(tuple(kept))
    return replace(request, good=sides[0], suspect=sides[1]), tuple(notices)


def first_of(captures: Sequence[Capture], capture: Capture) -> Capture:
    """The first capture with the same bytes; itself where it is that, or where its bytes are not known.

    The same object twice, of bytes that are not known, is taken for two captures.
    """
    return next((c for c in captures if c.sha256 and c.sha256 == capture.sha256), capture)

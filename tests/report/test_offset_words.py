"""The offset reads the same wherever it is printed: where it moves, from its first to its last."""

from __future__ import annotations

import numpy as np

from app.comparison_text import lineup_sentence, offset_words
from tests.notices.recipes import GOOD, A, board, compared


def test_the_offset_is_the_first_and_the_last_in_the_captures_own_numbers() -> None:
    assert offset_words(compared(GOOD, board(A[:, 12:], "south")).lineup) == "−12"
    waits = board(np.concatenate((A[:, :300], A[:, 299:300], A[:, 299:300], A[:, 300:]), axis=1), "south")
    slipped = compared(GOOD, waits).lineup
    assert offset_words(slipped) == "0 to +2"
    assert "offset 0 to +2, certain" in lineup_sentence(slipped)
    rows = np.insert(A, [100, 400], 1, axis=1)
    # the suspect has two cycles more that are left out
    quiet, more = A.copy(), rows.copy()
    quiet[7], more[7] = 0, 0
    more[7, [100, 401]] = 1
    left = compared(board(quiet), board(more, "south"), qualifier="H").lineup
    assert left.offset_cycles == 0
    assert offset_words(left) == "0 to +2"

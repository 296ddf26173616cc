"""What a comparison comes to: agrees, diverges, or cannot tell, with the reason and what to do next."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

OutcomeWord = Literal["agrees", "diverges", "cannot tell"]


class Reason(StrEnum):
    """Why it comes to that. The values are stable words of the JSON."""

    ALL_AGREE = "all_agree"
    SIGNALS = "signals"
    CLOCK = "clock"
    SLIPS = "slips"
    OTHER_CAPTURE = "other_capture"
    STOPS = "stops"
    UNSEEN_STATE = "unseen_state"
    NO_LINEUP = "no_lineup"
    DOUBTFUL_LINEUP = "doubtful_lineup"
    NO_CLOCK = "no_clock"
    OTHER_PROGRAM = "other_program"
    CONTENTS = "contents"
    TOO_LITTLE = "too_little"
    NOTHING_DECIDED = "nothing_decided"
    FEW_SIGNALS = "few_signals"
    SLIPS_UNKNOWN = "slips_unknown"
    TRACE_SPOILT = "trace_spoilt"
    VARIES_ON_GOOD = "varies_on_good"
    IN_DOUBT = "in_doubt"


WORD_OF: dict[Reason, OutcomeWord] = {
    Reason.ALL_AGREE: "agrees",
    Reason.SIGNALS: "diverges",
    Reason.CLOCK: "diverges",
    Reason.SLIPS: "diverges",
    Reason.OTHER_CAPTURE: "diverges",
    Reason.STOPS: "diverges",
    Reason.UNSEEN_STATE: "diverges",
    Reason.NO_LINEUP: "cannot tell",
    Reason.DOUBTFUL_LINEUP: "cannot tell",
    Reason.NO_CLOCK: "cannot tell",
    Reason.OTHER_PROGRAM: "cannot tell",
    Reason.CONTENTS: "cannot tell",
    Reason.TOO_LITTLE: "cannot tell",
    Reason.NOTHING_DECIDED: "cannot tell",
    Reason.FEW_SIGNALS: "cannot tell",
    Reason.SLIPS_UNKNOWN: "cannot tell",
    Reason.TRACE_SPOILT: "cannot tell",
    Reason.VARIES_ON_GOOD: "cannot tell",
    Reason.IN_DOUBT: "cannot tell",
}

EXIT_STATUS: dict[OutcomeWord, int] = {"agrees": 0, "diverges": 1, "cannot tell": 2}
"""As POSIX has it for diff: trouble, and not to be able to tell, are 2."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """``text`` says why in one sentence, ``do`` what to do next that has not been done; ``signals`` those meant."""

    reason: Reason
    text: str
    do: str = ""
    signals: tuple[str, ...] = ()

    @property
    def word(self) -> OutcomeWord:
        """One of the three.

        >>> Outcome(Reason.NO_LINEUP, "No line-up.").word
        'cannot tell'
        """
        return WORD_OF[self.reason]

    @property
    def headline(self) -> str:
        """What every output says first."""
        return self.text if self.word != "cannot tell" else f"Cannot tell. {self.text}"

    @property
    def exit_status(self) -> int:
        """What the command line ends with."""
        return EXIT_STATUS[self.word]

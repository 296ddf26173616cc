"""The kinds of fault that a signal can show, as an enumeration: figures and partners are no part of a kind."""

from __future__ import annotations

from enum import StrEnum


class FaultKind(StrEnum):
    """The value is how the kind is worded; ``word`` is what stands in the JSON and never changes."""

    WEAK_LOW = "weak low"
    WEAK_HIGH = "weak high"
    UNDEFINED = "undefined"
    STEADY_MID_LEVEL = "steady mid-level"
    RUNTS = "runts"
    SLOW_TRANSITIONS = "slow transitions"
    SLOW_RISE = "slow rise"
    STUCK_LOW = "stuck low"
    STUCK_HIGH = "stuck high"
    INVERTED = "inverted"
    FOLLOWS = "follows"
    LATE = "late"
    EARLY = "early"
    ONE_CYCLE_LATE = "one cycle late"
    SETUP_MISSED = "setup missed"
    HOLD_MISSED = "hold missed"
    SHORT_PULSE = "short pulse"
    JITTER = "jitter"
    MISSING_PULSES = "missing pulses"
    EXTRA_PULSES = "extra pulses"
    INTERMITTENT = "intermittent"
    WRONG_NOW_AND_THEN = "wrong now and then"
    NEITHER_LOW_NOR_HIGH = "neither low nor high"
    WRONG_STATE = "wrong state"
    DEAD = "dead"
    STOPS = "stops"
    DIVIDED = "divided"
    OTHER_RATE = "other rate"
    DOUBLE_EDGES = "double edges"
    DUTY_FACTOR = "duty factor"
    PAUSES = "pauses"
    WANDERING_PERIOD = "wandering period"
    UNEVEN_PERIOD = "uneven period"

    @property
    def word(self) -> str:
        """The fixed word.

        >>> FaultKind.STUCK_LOW.word
        'stuck_low'
        """
        return self.name.lower()


def kind_named(text: str) -> FaultKind | None:
    """The kind that a person names, as "stuck low", "stuck_low" or "late by 83 ns"; None where there is none such.

    >>> kind_named("one cycle late"), kind_named("Late by 83 ns"), kind_named("sleepy")
    (<FaultKind.ONE_CYCLE_LATE: 'one cycle late'>, <FaultKind.LATE: 'late'>, None)
    """
    plain = " ".join(text.casefold().replace("_", " ").replace("-", " ").replace(",", " ").split())
    fits = [kind for kind in FaultKind if f"{plain} ".startswith(f"{kind.value.replace('-', ' ')} ")]
    return max(fits, key=lambda kind: len(kind.value), default=None)

"""In what share of captures something happens, and how much a number of captures can show.

The unit is the capture, never the cycle: a bad contact diverges in bursts, and the cycles of one burst are one
event seen many times. Counted by cycles, an interval of 95 % would hold the truth far less often than that.

Two questions have two answers that must not be mixed. How often does it diverge? is a share between two bounds
(Wilson's interval). How rare must it be, if it hardly ever showed? is one upper bound (exact, one-sided).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, log, log10

from tracecore.measure.chance import share_bounds

CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Share:
    """``diverging`` of ``captures``, with the two-sided interval of the share, both bounds from 0 to 1.

    With no capture nothing is known: the share is None and the interval runs from 0 to 1.
    """

    diverging: int
    captures: int
    low: float
    high: float

    @property
    def share(self) -> float | None:
        """The share that was seen, 0 to 1; None without a capture."""
        return self.diverging / self.captures if self.captures else None

    @property
    def sentence(self) -> str:
        """The share with its interval, as it is printed beside a signal.

        >>> share_of(4, 5).sentence
        '4 of 5 captures; 37 to 97 % with 95 % confidence'
        """
        if not self.captures:
            return "no capture yet"
        low, high = floor(100 * self.low + 1e-9), ceil(100 * self.high - 1e-9)
        return f"{_of(self.diverging, self.captures)}; {low} to {high} % with {100 * CONFIDENCE:.0f} % confidence"


def share_of(diverging: int, captures: int) -> Share:
    """The share of captures that diverge with its 95 % interval (E. B. Wilson, J. Am. Stat. Assoc. 22, 1927).

    No continuity correction. The bounds are exactly 0 and 1 where none, or every, capture diverges.
    Raises ValueError unless ``0 <= diverging <= captures``.

    >>> round(share_of(0, 20).high, 4), share_of(0, 20).low
    (0.1611, 0.0)
    """
    _check(diverging, captures)
    return Share(diverging, captures, *share_bounds(diverging, captures))


def upper_bound(diverging: int, captures: int) -> float:
    """The share that is not exceeded with 95 % confidence: exact and one-sided (Clopper and Pearson,
    Biometrika 26, 1934). For no divergence in n captures it is 1 - 0.05 ** (1 / n).

    Raises ValueError unless ``0 <= diverging <= captures``; 1.0 where there is no capture, or all diverge.

    >>> round(upper_bound(0, 300), 4)
    0.0099
    """
    _check(diverging, captures)
    if diverging == captures:
        return 1.0
    if diverging == 0:
        return float(1 - (1 - CONFIDENCE) ** (1 / captures))
    # the statistics of scipy stand on the same function, and take half a second to import
    from scipy.special import betaincinv

    return float(betaincinv(diverging + 1, captures - diverging, CONFIDENCE))


def rule_of_three(captures: int) -> float:
    """The bound that a person works out in the head where nothing diverged: 3 / n, never more than 1.

    A little above the exact bound, since ln 0.05 is -2.996. Raises ValueError without a capture.

    >>> rule_of_three(300)
    0.01
    """
    if captures < 1:
        raise ValueError("the rule of three needs at least one capture")
    return min(1.0, 3 / captures)


def captures_to_see_once(rate: float) -> int:
    """How many captures it takes to see, with 95 % confidence, at least once what happens in ``rate`` of them.

    The same number of clean captures shows that the rate is no higher. Raises ValueError unless 0 < rate <= 1.

    >>> captures_to_see_once(0.01)
    299
    """
    if not 0 < rate <= 1:
        raise ValueError("a rate lies above 0 and is at most 1")
    if rate > CONFIDENCE:
        return 1
    count = max(1, round(log(1 - CONFIDENCE) / log(1 - rate)))
    # rounding of the logarithms may be one off either way
    while (1 - rate) ** count > 1 - CONFIDENCE:
        count += 1
    while count > 1 and (1 - rate) ** (count - 1) <= 1 - CONFIDENCE:
        count -= 1
    return count


def more_to_show_under(rate: float, diverging: int, captures: int) -> int:
    """How many more captures, all clean, would bring the upper bound to ``rate`` or under it; 0 if it is there.

    Raises ValueError unless 0 < rate <= 1 and ``0 <= diverging <= captures``.

    >>> more_to_show_under(0.01, 0, 300), more_to_show_under(0.01, 1, 300)
    (0, 173)
    """
    _check(diverging, captures)
    if not 0 < rate <= 1:
        raise ValueError("a rate lies above 0 and is at most 1")
    if rate == 1:
        return 0
    if diverging == 0:
        return max(0, captures_to_see_once(rate) - captures)
    from scipy.special import bdtr

    # few enough among n are unlikely (5 %) at this rate from some n on: halve the stretch in which it lies
    low, high = captures, max(captures, 1)
    while bdtr(diverging, high, rate) > 1 - CONFIDENCE:
        low, high = high, 2 * high
    while low < high:
        middle = (low + high) // 2
        if bdtr(diverging, middle, rate) > 1 - CONFIDENCE:
            low = middle + 1
        else:
            high = middle
    return high - captures


@dataclass(frozen=True, slots=True)
class Proof:
    """What a number of captures after a repair shows; its numbers are what a log entry keeps.

    ``upper_share`` (0 to 1) is the exact one-sided bound at ``confidence``; ``rule_of_three`` is there only
    where nothing diverged. Of ``uncounted`` captures it cannot be told, so they are in no share.
    """

    diverging: int
    captures: int
    uncounted: int
    confidence: float
    upper_share: float
    rule_of_three: float | None
    sentence: str


def proof(diverging: int, captures: int, *, uncounted: int = 0) -> Proof:
    """The proof that ``diverging`` of ``captures`` amount to. Raises ValueError for counts that cannot be."""
    _check(diverging, captures)
    if uncounted < 0:
        raise ValueError("a count of captures is not negative")
    three = rule_of_three(captures) if captures and not diverging else None
    upper = upper_bound(diverging, captures)
    sentence = " ".join(filter(None, (proof_sentence(diverging, captures), uncounted_sentence(uncounted))))
    return Proof(diverging, captures, uncounted, CONFIDENCE, upper, three, sentence)


def proof_sentence(diverging: int, total: int) -> str:
    """What the captures show, and no more; the percentage is rounded up, so that it claims no more than it may.

    >>> proof_sentence(0, 300)
    '0 of 300 captures diverge; with 95 % confidence fewer than 1.0 % would.'
    """
    _check(diverging, total)
    if not total:
        return "No capture counts yet, so nothing is shown."
    verb = "diverges" if total == 1 else "diverge"
    head = f"{_of(diverging, total)} {verb}"
    if diverging == total:
        return f"{head}; that sets no upper limit."
    bound = percent_up(upper_bound(diverging, total))
    return f"{head}; with {100 * CONFIDENCE:.0f} % confidence fewer than {bound} would."


def uncounted_sentence(uncounted: int) -> str:
    """How many captures prove nothing; empty without any.

    >>> uncounted_sentence(2)
    'Of 2 more it cannot be told, so they do not count.'
    """
    if not uncounted:
        return ""
    return f"Of {uncounted} more it cannot be told, so {'it does' if uncounted == 1 else 'they do'} not count."


def percent_up(share: float) -> str:
    """A share as a percentage of two significant digits, rounded up.

    >>> percent_up(0.009936), percent_up(0.0295), percent_up(0.95), percent_up(0.00012341)
    ('1.0 %', '3.0 %', '95 %', '0.013 %')
    """
    if share <= 0:
        return "0 %"
    percent = 100 * share
    places = 1 - floor(log10(percent))
    up = ceil(percent * 10**places - 1e-6) / 10**places
    # 9.96 carries to 10, which has its two digits already
    places = max(0, 1 - floor(log10(up)))
    return f"{min(up, 100.0):.{places}f} %"


def _of(diverging: int, captures: int) -> str:
    return f"{diverging} of {captures} capture{'' if captures == 1 else 's'}"


def _check(diverging: int, captures: int) -> None:
    if not 0 <= diverging <= captures:
        raise ValueError(f"{diverging} of {captures} captures cannot be: a part lies between 0 and the whole")

"""What captures after a repair prove, in words that claim no more than the numbers bear."""

from __future__ import annotations

import math

from app.case.record import OpenCase
from app.case.values import Entry, Proof
from tracecore.quantities import group_digits

CONFIDENCE = 0.95


def upper_bound(captures: int) -> float:
    """The exact one-sided 95 % bound on the share that diverges, where none of ``captures`` did.

    The share p at which none of n would diverge once in twenty trials: (1 - p)^n = 0.05 (C. J. Clopper and
    E. S. Pearson, Biometrika 26, 1934, for no events). Raises ValueError below one capture.

    >>> round(upper_bound(300), 5)
    0.00994
    """
    if captures < 1:
        raise ValueError(f"found {captures} captures; expected at least 1")
    return float(1 - (1 - CONFIDENCE) ** (1 / captures))


def bound_words(share: float) -> str:
    """A bound as a percentage of two digits, always rounded up, so that it claims nothing too good.

    >>> bound_words(upper_bound(300)), bound_words(0.4508), bound_words(0.000998)
    ('1.0 %', '46 %', '0.10 %')
    """
    percent = share * 100
    places = max(0, 1 - math.floor(math.log10(percent)))
    up = math.ceil(percent * 10**places - 1e-9) / 10**places
    return f"{up:.{max(0, 1 - math.floor(math.log10(up)))}f} %"


def proof_sentence(proof: Proof) -> str:
    """What the captures say; a capture that diverges leaves nothing proved.

    >>> proof_sentence(Proof(0, 300))
    '0 of 300 captures diverge; with 95 % confidence fewer than 1.0 % would.'
    """
    head = f"{group_digits(proof.diverging)} of {group_digits(proof.captures)} captures diverge"
    if proof.diverging:
        return f"{head}, so nothing is proved. Look where they diverge."
    return f"{head}; with 95 % confidence fewer than {bound_words(upper_bound(proof.captures))} would."


def standing_proof(case: OpenCase) -> Entry | None:
    """The newest log entry with a proof that no other entry corrects."""
    corrected = {entry.corrects for entry in case.entries}
    proofs = [entry for entry in case.entries if entry.proof is not None and entry.id not in corrected]
    return proofs[-1] if proofs else None


def lacks_for_verified(case: OpenCase) -> str:
    """Why the case cannot be stamped "verified" yet; empty where it can."""
    entry = standing_proof(case)
    if entry is None or entry.proof is None:
        return "Verified needs a proof line in the log: how many captures after the repair diverge (Proof…)."
    if entry.proof.diverging:
        return f"The last proof line says: {proof_sentence(entry.proof)} Verified needs one in which none diverges."
    return ""

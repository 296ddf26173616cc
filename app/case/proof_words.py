"""What captures after a repair prove, in words that claim no more than the numbers bear."""

from __future__ import annotations

from app.case.record import OpenCase
from app.case.values import Entry, Proof
from tracecore.quantities import group_digits


def proof_sentence(proof: Proof) -> str:
    """What the captures say; a capture that diverges leaves nothing proved.

    >>> proof_sentence(Proof(0, 300))
    '0 of 300 captures diverge; with 95 % confidence fewer than 1.0 % would.'
    """
    # numpy comes with it, and the first window must not wait for that
    from tracecore.repeats import share

    sentence = share.proof_sentence(proof.diverging, proof.captures)
    sentence = " ".join(filter(None, (sentence, share.uncounted_sentence(proof.uncounted))))
    return f"{sentence} So nothing is proved: look where they diverge." if proof.diverging else sentence


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
    if entry.proof.uncounted:
        return f"The last proof line says: {proof_sentence(entry.proof)} Verified needs one in which all can be told."
    return ""


def by_count_alone(case: OpenCase) -> str:
    """What a stamp "verified" rests on where the case holds fewer suspect captures than its proof counts, the faulty
    one not among them; empty where they may all be in the case."""
    entry = standing_proof(case)
    if case.state != "verified" or entry is None or entry.proof is None:
        return ""
    count = entry.proof.captures
    if count < len(case.suspect.captures):
        return ""
    held = "its capture is" if count == 1 else f"its {group_digits(count)} captures are"
    return f"verified by a typed count: {held} not in the case"


def helped(proof: Proof) -> bool | None:
    """Did what was done before help? No word where it cannot be told of some captures."""
    return False if proof.diverging else None if proof.uncounted else True

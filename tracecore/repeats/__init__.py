"""Many captures of one slot: how often a signal diverges, which is first, and what varies among good ones.

This room judges each known-good capture by the others first: one that stands alone on a signal is not believed
(`odd_captures.py`), by a bound on chance (`measure/chance.py`). The same bound says of each context whether the
signal varies there by more than chance. What is learnt is a `LearnedVariation`, the same for one comparison and for a
series.
"""

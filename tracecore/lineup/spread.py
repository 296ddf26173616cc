"""The multiplier that scatters words over the bits of a hash."""

from __future__ import annotations

SPREAD = 0x9E3779B97F4A7C15
"""2**64 over the golden ratio, made odd. Source: D. Knuth, The Art of Computer Programming, volume 3, section 6.4,
multiplicative hashing (from memory).

>>> abs(SPREAD - 2**64 / ((1 + 5**0.5) / 2)) < 2**12
True
"""
MASK = (1 << 64) - 1
"""The bits that a product keeps."""

"""Two backplanes read with an ohm meter: what is joined on one and not on the other, and what to read next."""

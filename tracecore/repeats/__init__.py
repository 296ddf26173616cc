"""Many captures of one slot: how often a signal diverges, which is first, and what varies among good ones."""

"""Captures as they land in a folder, for hours: each compared when it is complete, counted, and told. Knows no Qt."""

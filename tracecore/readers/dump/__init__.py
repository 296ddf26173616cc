"""Value change dumps (IEEE Std 1364-2005, clause 18)."""

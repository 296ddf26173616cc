"""Likely causes and the row of captures."""

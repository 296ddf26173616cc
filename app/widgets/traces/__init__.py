"""Paired traces with their scale, names, cursors and marks."""

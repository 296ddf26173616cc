"""Rows of logic cells, sampled or at changes, to transitions."""

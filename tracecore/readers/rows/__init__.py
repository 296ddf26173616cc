"""Rows of text to changes and numbers by a plan: one reading for logic, one for numbers, one for every other cell."""

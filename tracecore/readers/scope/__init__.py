"""Columns of volts in even steps of time."""

"""Twinslot as people touch it: the command line, the window, reports."""

__version__ = "0.1.0"

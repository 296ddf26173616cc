"""Twinslot as people touch it: the command line, the window, reports."""

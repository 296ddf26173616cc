"""Columns of bus words, split into bits."""

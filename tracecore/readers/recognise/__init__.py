"""Rows told from what stands above them."""

"""Likely causes before their consequences: ranking, order, tables learnt from the known-good side."""

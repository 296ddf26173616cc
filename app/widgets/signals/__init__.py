"""The table of all signals beside the traces."""

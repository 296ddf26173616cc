"""One capture alone: its clock, its levels, its delays, and whether it is fit to compare."""

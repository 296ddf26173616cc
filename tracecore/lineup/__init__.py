"""Which cycle of the suspect is which cycle of the known-good side: offset, rivals, slips, drift."""

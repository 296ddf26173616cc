"""Files read by what a person said of their columns."""

"""What stands above or beside the rows: names, units, rates, a preamble."""

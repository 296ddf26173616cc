"""Files to captures."""

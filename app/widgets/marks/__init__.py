"""Forms and lists of marks."""

"""What is wired to what: which pin each channel was clipped to."""

"""What the Timing page draws."""

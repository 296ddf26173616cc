"""What the Levels page draws."""

"""What is drawn on the Backplane page."""

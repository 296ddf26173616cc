"""Small parts that every page uses."""

"""What the pages are made of, a room a page."""

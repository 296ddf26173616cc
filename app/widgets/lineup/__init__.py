"""Parts of the Line-up page."""

"""Parts of the Log page."""

"""Parts of the Captures page."""

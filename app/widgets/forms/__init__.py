"""Forms that open above the pages."""

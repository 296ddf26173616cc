"""The frame round the pages: steps, form head, bottom line."""

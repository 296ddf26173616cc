"""One module for each page of the window, named as the steps."""

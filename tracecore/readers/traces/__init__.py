"""From decoded rows to the traces of a capture: the grid of their times, what is lost among them, what is told."""

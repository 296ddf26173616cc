"""Two captures side by side: line-up, transitions, divergence, fault modes, likely causes."""

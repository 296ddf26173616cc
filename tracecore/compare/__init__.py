"""One good and one suspect capture side by side: transitions, divergence, fault modes, pair check-up."""

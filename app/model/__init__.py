"""State of the window without widgets: the open case, its changes, jobs, actions, settings."""

"""The frame of the window and what its menus do."""

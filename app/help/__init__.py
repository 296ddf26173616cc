"""The user's guide, shown in the app."""

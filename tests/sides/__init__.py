"""Captures of one side: joined from parts, and with the names that both sides share."""

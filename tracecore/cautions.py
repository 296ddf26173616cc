"""What is said wherever hands are sent to a pin."""

AT_THE_PINS = (
    "Caution: mains and stored charge can kill. Power down before a clip is moved or a card is pulled. Local codes and "
    "licensed practice come first."
)
"""Follows every "Probe next", since that sends hands into the cabinet."""

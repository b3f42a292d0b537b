"""Latchlore turns the lore about an undocumented vintage interface into evidence."""

__version__ = "0.1.0"

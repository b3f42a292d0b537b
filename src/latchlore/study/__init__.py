"""The study folder: reading, checking and writing."""

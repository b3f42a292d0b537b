"""The published pages and pictures."""

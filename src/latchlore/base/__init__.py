"""Words and values everyone shares."""

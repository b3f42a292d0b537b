"""The wire witness: logs, captures and the merging of lossy runs."""

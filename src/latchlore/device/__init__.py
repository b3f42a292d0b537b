"""The documents' witness: command tables, streams and paper."""

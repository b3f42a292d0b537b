"""Sentences about times."""

PERCENT = "a percentile is 1 to 100, not {percent!r}"
VIOLATION = "{origin}: {figure} is {measured}; stated is {limit}"

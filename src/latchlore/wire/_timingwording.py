"""Sentences about times."""

PERCENT = "a percentile is 1 to 100, not {percent!r}"
NO_LENGTH = "no measured {figure} is {length}"
VIOLATION = "{origin}: {figure} is {measured}; stated is {limit}"

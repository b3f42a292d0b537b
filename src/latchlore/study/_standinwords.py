"""Sentences of writing test vectors."""

INSIDE = "vectors are not written into the study's own folder; name another folder"
NO_FOLDER = "is not a folder"


def foreign(name: str) -> str:
    """A folder that holds something else."""
    return f"holds {name!r}, which is no test vector; name a folder of its own"

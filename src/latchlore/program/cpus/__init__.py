"""The processors: each folder is one, found by itself.

A folder holds ``__init__.py`` with `NAME`, the name that a study uses, and ``cpu()``, which gives the `Cpu`; its table;
and ``_core.py``, written by scripts/generate_cores.  Nothing outside of the folder names a processor.
"""

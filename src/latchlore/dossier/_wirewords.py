"""Sentences of the pictures of the wire."""

RUNS_NAME = "{count} runs under their merge of {length} bytes"
LEFT_OUT = "and {count} bytes more, which are not drawn"
RUNS_KEY = (
    "bar: how sure the byte is; dashed place: the run lacks it; red frame: the run read another; wedge: a byte too many"
)
BYTE = "byte {index}: {value:02X}, {confidence:.2%} sure"
RUN = "run {number}"
TIMES_NAME = "Times measured between the edges of a capture"
TIMES = "{count} times"
KEPT = "kept"
BROKEN = "broken {count} times"
OPEN = "open {count} times"

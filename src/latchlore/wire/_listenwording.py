"""Sentences about live listening."""

NO_PORT = "cannot be opened: {why}"
HEAD = "# {label}\nnumbers: hex\nruns: file\n"
TAIL = "# {count} bytes; {why}\n"
STOPPED = "stopped by the user"
GONE = "the port went away: {why}"
SOCKET_NAME = "a socket is socket://HOST:PORT"
CLOSED = "closed by the other side"

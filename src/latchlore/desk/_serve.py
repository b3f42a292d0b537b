"""Opening the desk: a socket on this machine, a secret, a browser, and a clean end."""

from __future__ import annotations

import contextlib
import os
import secrets
import socket
import sys
from ipaddress import IPv4Address, IPv6Address, ip_address
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin
from latchlore.desk import wording

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

LOOPBACK = "127.0.0.1"
SECRET_BYTES = 24
IDLE_SECONDS = 5


def serve(folder: Path, *, port: int, browser: bool, say: Callable[[str], object], address: str = LOOPBACK) -> None:
    """Show the study until Ctrl-C or a polite signal.  `port` 0: a free one.

    `address`: one address of this machine; any but the loopback's lets others of that network in, and is said aloud.
    Refuses a folder that is not there, a port that is taken, and what is no single address of this machine.  A study
    with mistakes is no reason to refuse: the page shows them and follows the files.
    """
    import uvicorn

    from latchlore.desk._app import make_app
    from latchlore.desk._guard import HOSTS
    from latchlore.desk._patience import Patient
    from latchlore.dossier import image_loads
    from latchlore.study import set_kernel_cache, weigh_study

    if not folder.is_dir():
        raise BadInput(Origin(str(folder)), "there is no such folder")
    set_kernel_cache()
    place = _address(address)
    with _open_socket(place, port) as listener:
        number = listener.getsockname()[1]
        token = secrets.token_urlsafe(SECRET_BYTES)
        name = f"[{place}]" if place.version == 6 else str(place)
        hosts = (*HOSTS, name) if place.is_loopback else (name,)
        app = make_app(folder, token=token, weigh=weigh_study, loads=image_loads, port=number, hosts=hosts)
        config = uvicorn.Config(
            app,
            http=Patient,
            log_level="error" if os.environ.get("LATCHLORE_DEBUG") == "1" else "critical",
            access_log=False,  # it would write the secret down
            lifespan="on",
            timeout_keep_alive=IDLE_SECONDS,
            timeout_graceful_shutdown=2,
            server_header=False,
        )
        page = f"http://{name}:{number}/{token}/"
        say((wording.OPENED if place.is_loopback else wording.OPENED_TO_OTHERS).format(address=page))
        if browser and not open_browser(page):
            say(wording.NO_BROWSER)
        with contextlib.suppress(KeyboardInterrupt):  # Ctrl-C is how the desk is closed
            uvicorn.Server(config).run(sockets=[listener])
        say(wording.CLOSED)


def _address(text: str) -> IPv4Address | IPv6Address:
    """The address to listen at.  Refuses names, and the address that stands for all of them."""
    try:
        found = ip_address(text)
    except ValueError as error:
        raise BadInput(Origin("--address"), wording.NO_ADDRESS.format(text=text)) from error
    if found.is_unspecified or found.is_multicast:
        raise BadInput(Origin("--address"), wording.NO_ADDRESS.format(text=text))
    return found


def _open_socket(place: IPv4Address | IPv6Address, port: int) -> socket.socket:
    listener = socket.socket(socket.AF_INET6 if place.version == 6 else socket.AF_INET, socket.SOCK_STREAM)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((str(place), port))
        listener.listen()  # now, so that whoever reads the address may use it at once
    except OSError as error:
        listener.close()
        reason = (error.strerror or str(error)).lower()
        raise BadInput(Origin(f"{place}:{port}"), f"the desk cannot listen here: {reason}") from error
    return listener


def open_browser(address: str) -> bool:
    """Open a graphical browser; False where there is none (one in the terminal would take the desk's place)."""
    import webbrowser

    if sys.platform.startswith("linux") and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        return False
    return webbrowser.open(address)

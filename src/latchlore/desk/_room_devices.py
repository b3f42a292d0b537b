"""The devices: their documents side by side, each one's tables with what it says against itself, scans searched."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.concurrency import run_in_threadpool
from starlette.routing import Route

from latchlore.base import UnknownName
from latchlore.desk._places import file_address, origin_address
from latchlore.dossier import view_devices, view_variants

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from latchlore.desk._desk import Desk
    from latchlore.desk._watch import State


def routes(desk: Desk) -> list[Route]:
    """All documents, and the page that one row cites."""
    room = _Devices(desk)
    return [Route("/devices", desk.shown(room.devices)), Route("/devices-page", desk.shown(room.page))]


class _Devices:
    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    async def devices(self, request: Request, state: State) -> Response:
        """The comparison, the register of sources, every document's tables, and where words stand in the scans."""
        from latchlore.device import find_text, register_sources

        desk = self._desk
        found = (await desk.hearing(state)).devices
        table = state.table
        assert table is not None
        variants = await desk.once(state, "variants", lambda: view_variants(found, table, origin_address))
        views = await desk.once(state, "documents", lambda: view_devices(found, origin_address))
        sources = await desk.once(state, "sources", lambda: register_sources(found, desk.folder))
        words = request.query_params.get("find", "").strip()
        hits = await run_in_threadpool(find_text, found, desk.folder, words) if words else ()
        return desk.page(
            "devices_room.html",
            state,
            room="devices",
            variants=variants,
            views=views,
            sources=[(str(one), file_address(one.device.file)) for one in sources],
            words=words,
            hits=[str(one) for one in hits],
            link_to_file=file_address,
        )

    async def page(self, request: Request, state: State) -> Response:
        """The page of the scan that a row cites."""
        from latchlore.device import cited_page

        desk = self._desk
        found = {one.file: one for one in (await desk.hearing(state)).devices}
        file, row = request.query_params.get("device", ""), request.query_params.get("row", "")
        if file not in found:
            raise UnknownName(f"the study has no document {file!r}", found)
        command = found[file].get_command(row)
        text = await run_in_threadpool(cited_page, found[file], command.citation, desk.folder)
        href = origin_address(command.citation.origin)
        return desk.page("devices_page.html", state, room="devices", command=command, text=text, href=href)

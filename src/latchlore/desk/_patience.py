"""Connections that are slow to say what they want do not keep the desk from others.

A request must have arrived as a whole within `REQUEST_SECONDS`; of more than `MAX_CONNECTIONS` at once, the one that
has been silent longest goes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from uvicorn.protocols.http.h11_impl import H11Protocol

if TYPE_CHECKING:
    import asyncio

REQUEST_SECONDS = 20
MAX_CONNECTIONS = 256


class Patient(H11Protocol):
    """The HTTP protocol with an end to its patience."""

    _timer: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as the parent's
        """Begin to wait for a request; make room where there are too many that wait."""
        super().connection_made(transport)
        self._wait()
        if len(self.connections) > MAX_CONNECTIONS:
            waiting = [one for one in self.connections if isinstance(one, Patient) and one.waits_until]
            min(waiting, key=lambda one: one.waits_until).give_up()

    def data_received(self, data: bytes) -> None:
        """Take bytes; a request that is whole is waited for no more."""
        super().data_received(data)
        if self.cycle is not None and not self.cycle.more_body:
            self._stop()
        elif self._timer is None:
            self._wait()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no more."""
        self._stop()
        super().connection_lost(exc)

    @property
    def waits_until(self) -> float:
        """When the patience ends; 0 where nothing is waited for."""
        return self._timer.when() if self._timer is not None else 0

    def give_up(self) -> None:
        """Close without a word."""
        self._stop()
        self.transport.abort()

    def _wait(self) -> None:
        self._timer = self.loop.call_later(REQUEST_SECONDS, self.give_up)

    def _stop(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

"""The address space of one program: what each cell is at the entry, and the arrays that the core works on."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np
import numpy.typing as npt

from latchlore.program import _core as core
from latchlore.program._image import SPACE, Image, check_overlaps

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from latchlore.base import AddressSet
    from latchlore.program._cpu import Cpu

Cells: TypeAlias = npt.NDArray[np.uint8]
Page: TypeAlias = tuple[bytes, bytes]  # contents, attributes
PAGE = 256


def _port_numbers(ports: AddressSet | None) -> Iterator[int]:
    """Every number of sixteen lines that reaches one of the ports; a set of fewer lines leaves the upper ones open."""
    if ports is None:
        yield from range(SPACE)
        return
    for high in range(0, SPACE, 1 << ports.width):
        for low in ports.iter_addresses():
            yield high | low


class Space:
    """One working set of cells (see `_core.py`) that can be put back to the entry, page by page."""

    def __init__(
        self,
        cpu: Cpu,
        images: tuple[Image, ...],
        devices: AddressSet,
        memory: Mapping[int, int],
        ports: AddressSet | None = None,
        fill: int = core.UNKNOWN,
    ) -> None:
        check_overlaps(images)
        self.cpu, self.size = cpu, cpu.space
        start = np.zeros((3, cpu.space), dtype=np.uint8)
        start[1] = fill
        start[1, SPACE:] = 0
        for image in images:
            start[0, image.load : image.last + 1] = np.frombuffer(image.data, dtype=np.uint8)
            start[1, image.load : image.last + 1] = 0 if image.writable else core.FIXED
            for first, last in image.unknown:
                start[1, first : last + 1] |= core.UNKNOWN
        for address, value in memory.items():
            start[0, address] = value
            start[1, address] = 0
        self.mark(start, devices.iter_addresses())
        if cpu.space > SPACE:
            self.mark(start, (SPACE + port for port in _port_numbers(ports)))
        self.start = start
        self.memory = bytearray(start.tobytes())  # the same bytes as `cells`, for searches
        self.cells: Cells = np.frombuffer(self.memory, dtype=np.uint8)
        self.kinds = self.cells[self.size : 2 * self.size]
        self.written = self.cells[2 * self.size :]
        self.loaded: set[int] = set()
        self.ever: Cells | None = None  # 1 for each cell that was written at any time, where that is wanted

    def share(self, cells: Iterable[int], unknown: Iterable[int]) -> None:
        """Cells that others may write at any time, and cells whose content is not known after all."""
        for address in unknown:
            if not self.start[1, address] & (core.DEVICE | core.FIXED):
                self.start[0, address], self.start[1, address] = 0, core.UNKNOWN
        for address in cells:
            if not self.start[1, address] & core.DEVICE:
                self.start[0, address], self.start[1, address] = 0, core.UNKNOWN | core.FIXED
        self.cells[:] = self.start.reshape(-1)

    def mark(self, start: Cells, addresses: Iterable[int]) -> None:
        """Make addresses device registers."""
        index = np.fromiter(addresses, dtype=np.int64)
        start[0, index] = 0
        start[1, index] = core.DEVICE

    def page(self, number: int) -> Page:
        """A page as it is now."""
        at = number * PAGE
        return self.cells[at : at + PAGE].tobytes(), self.kinds[at : at + PAGE].tobytes()

    def start_page(self, number: int) -> Page:
        """A page as it was at the entry."""
        at = number * PAGE
        return self.start[0, at : at + PAGE].tobytes(), self.start[1, at : at + PAGE].tobytes()

    def put_page(self, number: int, page: Page) -> None:
        """Overwrite a page."""
        at = number * PAGE
        self.cells[at : at + PAGE] = np.frombuffer(page[0], dtype=np.uint8)
        self.kinds[at : at + PAGE] = np.frombuffer(page[1], dtype=np.uint8)

    def touched(self) -> set[int]:
        """Numbers of the pages written since `load`, or loaded by it."""
        found = set(self.loaded)
        first = 2 * self.size
        at = self.memory.find(1, first)
        while at >= 0:
            number = (at - first) // PAGE
            found.add(number)
            at = self.memory.find(1, first + (number + 1) * PAGE)
        return found

    def is_written(self, first: int, last: int) -> bool:
        """Whether one of the cells from `first` up to `last`, itself left out, was written since `load`."""
        return self.memory.find(1, 2 * self.size + first, 2 * self.size + last) >= 0

    def save(self) -> dict[int, Page]:
        """The pages that differ from the entry."""
        found: dict[int, Page] = {}
        for number in sorted(self.touched()):
            page = self.page(number)
            if page != self.start_page(number):
                found[number] = page
        return found

    def load(self, pages: Mapping[int, Page]) -> None:
        """Put the cells to the entry, then to these pages."""
        for number in self.touched() - pages.keys():
            self.put_page(number, self.start_page(number))
        for number, page in pages.items():
            self.put_page(number, page)
        if self.ever is not None:
            self.ever |= self.written
        self.written[:] = 0
        self.loaded = set(pages)

    def ever_written(self) -> frozenset[int]:
        """Every cell of RAM that was written since the start; `ever` has been set before."""
        assert self.ever is not None
        ram = self.start[1, :SPACE] & (core.DEVICE | core.FIXED) == 0
        return frozenset(np.flatnonzero((self.ever | self.written)[:SPACE].astype(bool) & ram).tolist())

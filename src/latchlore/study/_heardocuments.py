"""What the documents of a study say, under the switch settings that study.toml states."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import BadInput
from latchlore.study import _hearwords as words
from latchlore.study._withdrawn import names_of, still_said

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from latchlore.base import Origin, Testimony
    from latchlore.device import Device
    from latchlore.study._study import Study


def hear_documents(study: Study) -> tuple[tuple[Device, ...], list[Testimony]]:
    """The documents, in the order of their files, and what they testify.

    Refuses every mistake of their files, and a switch or a setting in study.toml that none of them has.
    """
    from latchlore.device import StatedSwitch, read_device
    from latchlore.device.testify import testify

    devices: list[Device] = []
    mistakes: list[tuple[Origin, str]] = []
    for one in study.documents:
        try:
            devices.append(read_device(one.raw, one.file))
        except BadInput as error:
            mistakes += error.mistakes
    mistakes = mistakes or list(_wrong_switches(study, devices))
    if mistakes:
        raise BadInput.of_all(mistakes)
    stated = [StatedSwitch(one.name, one.value, one.origin) for one in study.switches]
    return tuple(devices), still_said(testify(devices, stated), names_of(study))


def _wrong_switches(study: Study, devices: Sequence[Device]) -> Iterator[tuple[Origin, str]]:
    known: dict[str, dict[str, None]] = {}
    for device in devices:
        for switch in device.switches:
            known.setdefault(switch.name, {}).update(dict.fromkeys(switch.values))
    for one in study.switches:
        if one.name not in known:
            yield one.origin, words.no_switch(one.name, list(known))
        elif one.value not in known[one.name]:
            yield one.origin, words.no_setting(one.name, one.value, list(known[one.name]))

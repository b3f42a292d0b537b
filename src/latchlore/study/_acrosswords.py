"""The sentences on what the witnesses explain of one another."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

NOT_READ = "no status bit carries the acknowledge line: the host cannot see it at all"
NOT_WAITED = "a status bit carries the acknowledge line, but the program never waits for it"
SHOWN = 8


def command(meaning: str, code: str) -> str:
    """A command by what it does and its code."""
    return f"{meaning} ({code})"


def carried(device: str, count: int, lost: Sequence[str], lines: int) -> str:
    """What of a device's commands so many data lines carry."""
    if not lost:
        return f"{lines} data lines carry all {count} commands of the {device}"
    return f"of the {count} commands of the {device}, {lines} data lines do not carry: {'; '.join(lost)}"


def sendable(device: str, may: Sequence[str], never: Sequence[str]) -> str:
    """What of a device's commands the program can send."""
    if not never:
        return f"the program may send every command of the {device}"
    left_out = f" and {len(never) - SHOWN} more" if len(never) > SHOWN else ""
    some = f"of the {device}'s commands the program never sends: {'; '.join(never[:SHOWN])}{left_out}"
    return some if may else f"the program sends no command of the {device}"


def always_seen(period: str, width: str, who: str) -> str:
    """Looks that come often enough."""
    return f"the program looks at it every {period} or more often, so it cannot miss a pulse of {width} ({who})"


def may_be_missed(period: str, width: str, who: str) -> str:
    """Looks that come too seldom."""
    return f"the program looks at it only every {period}, so a pulse of {width} ({who}) may fall between two looks"


def satisfied(names: Sequence[str], values: Sequence[int]) -> str:
    """Status bytes that satisfy all drivers."""
    who = ", ".join(repr(name) for name in names)
    if not values:
        return f"no byte read here lets all of {who} send"
    if len(values) == 1:
        return f"only {values[0]:02X} read here lets {who} send for certain"
    shared = [bit for bit in range(7, -1, -1) if len({value >> bit & 1 for value in values}) == 1]
    fixed = ", ".join(f"bit {bit} = {values[0] >> bit & 1}" for bit in shared)
    whole = f"{len(values)} of 256 bytes read here let {who} send for certain"
    return f"{whole}: those with {fixed}" if len(values) == 1 << 8 - len(shared) else whole


def undriven(tested: Mapping[int, Sequence[str]]) -> str:
    """Bits wired to nothing, and who tests them all the same."""
    parts = [
        f"bit {bit} is driven by nobody" + (f", yet {', '.join(map(repr, names))} tests it" if names else "")
        for bit, names in tested.items()
    ]
    return "; ".join(parts)


def losses_foretold(foreseen: float, share: float, nats: float) -> str:
    """The listener model explains the misses."""
    likelier = f"likelier than an even rate by a factor of {_factor(nats)}"
    return (
        f"{_must_lose(foreseen, share)}, and just the bytes that it lost: {likelier}; the program is taken not to wait"
    )


def losses_not_foretold(foreseen: float, share: float, nats: float) -> str:
    """The listener model does not explain the misses."""
    likelier = f"an even rate is likelier by a factor of {_factor(nats)}"
    cause = "the clock, the listener's figures or another wait of the program does not fit"
    return f"{_must_lose(foreseen, share)}, and other bytes than it lost: {likelier}; {cause}"


def losses_open(foreseen: float, share: float) -> str:
    """The misses do not tell."""
    return f"{_must_lose(foreseen, share)}; the runs do not tell whether it lost just the bytes that it must"


def _must_lose(foreseen: float, share: float) -> str:
    return f"from the program's cycles the stated listener must lose {foreseen:.1%} (it lost {share:.1%})"


def _factor(nats: float) -> str:
    """A likelihood ratio as a power of ten where it is large."""
    power = nats / 2.302585092994046
    return f"{10**power:.0f}" if power < 6 else f"10^{power:.0f}"

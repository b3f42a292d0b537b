"""Streams with lost and doubtful bytes."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from latchlore.base import ByteSequence, SequenceByte, Unsupported
from latchlore.device import Device, Gap, SpanState, StreamSpan, find_losses, read_device, read_sequence, read_stream
from latchlore.device import traceless_bytes as find_traceless
from latchlore.device._alignment import find_gap
from tests.device_writer import tables, write_row

HEAD = 'title = "Strip"\ndevice = "Quill"\nkind = "manual"\n'
ROWS = HEAD + "".join(
    f'[[command]]\npattern = "{pattern}"\nmeaning = "{meaning}"\n'
    for pattern, meaning in [
        ("1F 64 n.lo n.hi data*n", "row of dots"),
        ("0D", "carriage return"),
        ("0A", "line feed"),
        ("1B 45 n", "emphasis"),
    ]
)
PRINT = '[[command]]\npattern = "20..7E"\nmeaning = "print"\ndoes = "print"\n'
WEDGE = bytes.fromhex("0102040810204080")


def row_of(data: bytes) -> bytes:
    """A row of dots and the end of its line."""
    return bytes([0x1F, 0x64, len(data), 0]) + data + b"\r\n"


@pytest.fixture(scope="module")
def device() -> Device:
    return read_device((ROWS + PRINT).encode(), "documents/strip.toml")


@pytest.fixture(scope="module")
def damaged() -> bytes:
    """Bench case: three rows, the bytes 08 10 of the second lost."""
    whole = row_of(WEDGE) * 3
    return whole[:21] + whole[23:]


def test_plain_reading_shows_no_error(device: Device, damaged: bytes) -> None:
    """What makes the search needed: the plain reading takes 0D 0A for the last two columns and complains of nothing."""
    reading = read_stream(device, damaged)
    assert all(span.state is SpanState.COMPLETE for span in reading)
    assert reading[3].raw[-2:] == b"\r\n"


def test_find_losses(device: Device, damaged: bytes) -> None:
    """Bench case: row 2 is two bytes short, 40 bytes instead of 42, columns 4 and 5, 08 10."""
    report = find_losses(device, damaged)
    (loss,) = report.losses
    assert (report.num_seen, report.num_sent) == (40, 42)
    assert (loss.number, loss.missing, loss.present, loss.count) == (2, 2, 6, 8)
    assert loss.absorbed == b"\r\n"
    assert loss.gap == Gap((3, 4), (), b"\x08\x10", 0)
    assert [span[3] for span in report.spans] == [0, 0, 0, 2, 0, 0, 0, 0, 0]
    assert str(loss).startswith(
        "000E: row of dots, number 2: 2 of 8 bytes missing: columns 4, 5, 08 10 in the neighbouring row; "
        "a plain reading takes 0D 0A behind for data; otherwise none missing ("
    )


def test_find_losses_without_neighbours(device: Device, damaged: bytes) -> None:
    """Bench case: without the model of neighbouring rows two of eight are missing, the position is unknown."""
    report = find_losses(device, damaged, compare_rows=False)
    (loss,) = report.losses
    assert (loss.missing, loss.count, loss.gap) == (2, 8, None)
    assert "2 of 8 bytes missing, position unknown;" in str(loss)


@pytest.mark.parametrize("lost", [1, 2, 3, 5])
def test_find_losses_everywhere(device: Device, lost: int) -> None:
    """Any run of bytes lost from any row of a picture is found in its row, with its length and place."""
    whole = row_of(WEDGE) * 5
    for row in (0, 1, 4):
        for column in range(8 - lost + 1):
            place = 14 * row + 4 + column
            report = find_losses(device, whole[:place] + whole[place + lost :])
            shown = [(loss.number, loss.missing, loss.gap.sure if loss.gap else None) for loss in report.losses]
            assert shown == [(row + 1, lost, tuple(range(column, column + lost)))], (row, column)


def test_find_losses_none(device: Device) -> None:
    """A whole stream has none, be its rows alike, blank, or noise with line ends among the data."""
    rng = random.Random(5)
    noise = b"".join(row_of(rng.randbytes(8)) for _ in range(40))
    ends = b"".join(row_of(bytes(rng.choice(b"\r\n\x1f\x00A") for _ in range(8))) for _ in range(40))
    for whole in (row_of(WEDGE) * 30, row_of(bytes(8)) * 30, noise, ends, b"LEVEL 3.41\r\n" * 20, b""):
        assert find_losses(device, whole).losses == ()


def test_find_losses_blank_rows(device: Device) -> None:
    """In a row whose bytes are all alike the number is told and the place is not."""
    whole = row_of(bytes(8)) * 4
    (loss,) = find_losses(device, whole[:20] + whole[22:]).losses
    assert loss.missing == 2
    assert loss.gap == Gap((), tuple(range(8)), b"", 0)


def test_find_losses_with_a_tail() -> None:
    """A row may have bytes behind its data."""
    table = HEAD + '[[command]]\npattern = "1F n data*n 03"\nmeaning = "block"\n' + PRINT
    device = read_device(table.encode(), "documents/block.toml")
    block = b"\x1f\x08" + WEDGE + b"\x03AB"
    whole = block * 4
    (loss,) = find_losses(device, whole[:17] + whole[18:]).losses
    assert (loss.number, loss.missing, loss.gap) == (2, 1, Gap((2,), (), b"\x04", 0))


def test_find_losses_marked(device: Device) -> None:
    """Where a merge says that a byte is missing, that place is named, and the loss is the more certain."""
    rng = random.Random(9)
    rows = [rng.randbytes(8) for _ in range(4)]
    whole = b"".join(row_of(data) for data in rows)
    lost = whole[:20] + whole[21:]
    items = [SequenceByte(byte, 1.0, (), 0.6 if place == 20 else 0.0) for place, byte in enumerate(lost)]
    (loss,) = find_losses(device, ByteSequence(tuple(items), 0.5, 2)).losses
    assert (loss.missing, loss.marked) == (1, (20,))
    assert loss.bits > find_losses(device, lost).losses[0].bits


def test_find_losses_wrong(device: Device) -> None:
    """A stream that is too long is refused."""
    words = (
        r"^documents/strip\.toml:1: losses are sought in up to 65536 bytes; cut the stream \(65537 bytes\) into parts$"
    )
    with pytest.raises(Unsupported, match=words):
        find_losses(device, bytes(65_537))


def test_find_gap() -> None:
    """The place by the neighbour that resembles the row; none where no neighbour does."""
    assert find_gap(b"ABDE", [b"ABCDE"]) == Gap((2,), (), b"C", 0)
    assert find_gap(b"ABXE", [b"ABCDE"]) == Gap((), (2, 3), b"", 1)
    assert find_gap(b"AABB", [b"AAABB"]) == Gap((), (0, 1, 2), b"", 0)
    assert find_gap(b"WXYZ", [b"ABCDE"]) is None
    assert find_gap(b"ABDE", []) is None


def test_traceless_bytes(device: Device) -> None:
    """A lost character leaves no trace, nor a lost parameter that the next character stands in for."""
    assert find_traceless(device, b"AB\r\n") == ((0, 4),)
    assert find_traceless(device, b"\x1bE\x01A") == ((2, 4),)


def test_traceless_bytes_wrong(device: Device) -> None:
    """A stream that is too long is refused."""
    words = (
        r"^documents/strip\.toml:1: traces are sought in up to 20000 bytes; cut the stream \(20001 bytes\) into parts$"
    )
    with pytest.raises(Unsupported, match=words):
        find_traceless(device, bytes(20_001))


def check_every_loss(device: Device, rng: random.Random, rows: int) -> tuple[int, int, int]:
    """Take each byte of a random stream away: (bytes, losses that the reading complains of, losses without trace).

    Whatever leaves no trace is announced by `traceless_bytes` of the whole stream, and only that.
    """
    data = b"".join(write_row(rng.choice(device.commands).pattern, rng)[0] for _ in range(rows))
    announced = {place for first, end in find_traceless(device, data) for place in range(first, end)}
    silent = set()
    for place in range(len(data)):
        reading = read_stream(device, data[:place] + data[place + 1 :], compiled=False)
        if all(span.state is SpanState.COMPLETE for span in reading):
            silent.add(place)
    assert silent == announced
    return len(data), len(data) - len(silent), len(silent)


@settings(deadline=None, max_examples=10)
@given(tables(), st.integers(0, 2**32))
def test_every_single_loss(device: Device, seed: int) -> None:
    """Random tables and streams: a lost byte is complained of, or it was announced that it would not be."""
    check_every_loss(device, random.Random(seed), 6)


# -- doubts of a merge


def doubtful(data: bytes, **places: tuple[float, tuple[tuple[int, float], ...], float]) -> ByteSequence:
    """A sequence that is certain but for some places: confidence, alternatives, probability of a byte missing."""
    items = [SequenceByte(byte, *places.get(f"at{k}", (1.0, (), 0.0))) for k, byte in enumerate(data)]
    return ByteSequence(tuple(items), 0.5, 3)


def test_read_sequence_certain(device: Device) -> None:
    """Without doubts every span is sure."""
    found = read_sequence(device, ByteSequence.certain(b"AB\r\n"))
    assert found.doubts == ()
    assert [(span.stands, span.exact) for span in found.spans] == [(1.0, 1.0)] * 3
    assert list(found.reading) == list(read_stream(device, b"AB\r\n"))


def test_read_sequence_count(device: Device) -> None:
    """A doubtful count puts in doubt what it would swallow, and no more."""
    data = b"A" + row_of(WEDGE) + b"\x1bE\x01B"
    found = read_sequence(device, doubtful(data, at3=(0.9, ((9, 0.1),), 0.0)))
    (doubt,) = found.doubts
    (effect,) = doubt.effects
    assert (doubt.place, doubt.is_missing, effect.values) == (3, False, (9,))
    assert (effect.first, effect.until, effect.returns, effect.same_spans, effect.more) == (1, 14, True, False, 0)
    assert [round(span.stands, 6) for span in found.spans] == [1, 0.9, 0.9, 1, 1, 1]
    assert str(doubt) == "0003: the byte may be another (10.0%); 09: reads otherwise from 0001 to 000E"


def test_read_sequence_data(device: Device) -> None:
    """A doubtful byte of data leaves the spans as they are; only that span's bytes are in doubt."""
    found = read_sequence(device, doubtful(row_of(WEDGE), at6=(0.7, ((5, 0.3),), 0.0)))
    assert [round(span.stands, 6) for span in found.spans] == [1, 1, 1]
    assert [round(span.exact, 6) for span in found.spans] == [0.7, 1, 1]
    assert str(found.doubts[0]) == "0006: the byte may be another (30.0%); 05: the same spans"


def test_read_sequence_missing(device: Device) -> None:
    """A byte missing in counted data lets the last byte fall out of the row, whatever its value was."""
    found = read_sequence(device, doubtful(row_of(WEDGE) * 2, at7=(1.0, (), 0.25)))
    (doubt,) = found.doubts
    (effect,) = doubt.effects
    assert (doubt.is_missing, len(effect.values), effect.first, effect.until) == (True, 256, 0, 12)
    assert effect.more == 1
    assert [round(span.stands, 6) for span in found.spans] == [0.75, 1, 1, 1, 1, 1]


def test_read_sequence_missing_in_text(device: Device) -> None:
    """In a text most values make one more character; those that begin a row change what follows."""
    found = read_sequence(device, doubtful(b"ABCD", at2=(1.0, (), 0.256)))
    (doubt,) = found.doubts
    harmless = next(effect for effect in doubt.effects if effect.first == effect.until and effect.more == 0)
    assert set(harmless.values) == {*range(0x20, 0x7F), 0x0D, 0x0A}
    swallowed = next(effect for effect in doubt.effects if 0x1B in effect.values)
    assert swallowed.until > 2


def outcomes(sequence: ByteSequence) -> list[tuple[float, list[tuple[int | None, int]]]]:
    """Every stream that the doubts leave, with its probability; each byte with its place in the sequence."""
    found: list[tuple[float, list[tuple[int | None, int]]]] = [(1.0, [])]
    for place, item in enumerate(sequence.items):
        ways: list[tuple[float, list[tuple[int | None, int]]]] = []
        values = [(item.value, item.confidence), *item.alternatives]
        for value, p in values:
            ways.append((p * (1 - item.missing_before), [(place, value)]))
            if item.missing_before:
                ways += [(p * item.missing_before / 256, [(None, extra), (place, value)]) for extra in range(256)]
        found = [(p * q, [*head, *tail]) for p, head in found for q, tail in ways]
    return found


def share_that_stands(device: Device, sequence: ByteSequence) -> list[tuple[float, float]]:
    """For each span, by trying every stream: that it stands there with its row, and that its bytes are right too."""
    spans = list(read_stream(device, sequence.data))
    stands, exact = [0.0] * len(spans), [0.0] * len(spans)
    for p, stream in outcomes(sequence):
        index_of = {place: k for k, (place, _) in enumerate(stream) if place is not None}
        data = bytes(value for _, value in stream)
        singles = {
            (s, e): span.command.index if span.command else -1
            for span in read_stream(device, data)
            for s, e in cut_up(span)
        }
        for k, span in enumerate(spans):
            wanted = cut_up(span)
            row = span.command.index if span.command else -1
            if all(
                index_of[e - 1] - index_of[s] == e - 1 - s and singles.get((index_of[s], index_of[e - 1] + 1)) == row
                for s, e in wanted
            ):
                stands[k] += p
                first, last = index_of[span.start], index_of[span.end - 1]
                exact[k] += p * (data[first : last + 1] == span.raw)
    return list(zip(stands, exact, strict=True))


def cut_up(span: StreamSpan) -> list[tuple[int, int]]:
    """The span, or its single bytes where neighbouring ones were made one."""
    if span.command is None or len(span.command.pattern.parts) == 1:
        return [(k, k + 1) for k in range(span.start, span.end)]
    return [(span.start, span.end)]


def check_every_outcome(device: Device, seed: int, turns: int, missing_each: int) -> int:
    """Compare with every stream that the doubts leave, up to where doubts meet; gives how many spans were compared."""
    rng = random.Random(seed)
    compared = 0
    for turn in range(turns):
        data = b"".join(rng.choice((b"AB", b"\r\n", b"\x1bE\x01", row_of(WEDGE[:4]))) for _ in range(6))
        places: dict[str, tuple[float, tuple[tuple[int, float], ...], float]] = {}
        for place in rng.sample(range(len(data)), 3):
            other = rng.choice([value for value in (0x41, 0x1B, 0x05, 0x0D, 0x45) if value != data[place]])
            places[f"at{place}"] = (0.8, ((other, 0.2),), 0.0)
        if turn % missing_each == missing_each - 1:
            places[f"at{rng.randrange(len(data))}"] = (1.0, (), 0.25)
        sequence = doubtful(data, **places)
        found = read_sequence(device, sequence)
        for sure, wanted, span in zip(found.spans, share_that_stands(device, sequence), found.reading, strict=True):
            if span.end <= found.exact_until:
                compared += 1
                assert sure.stands == pytest.approx(wanted[0]), (data.hex(" "), places, span)
                assert sure.exact == pytest.approx(wanted[1]), (data.hex(" "), places, span)
    return compared


def test_read_sequence_every_outcome(device: Device) -> None:
    """Against every stream that the doubts leave: up to where doubts meet the figures are exact."""
    assert check_every_outcome(device, 6, 40, 40) > 150


def test_read_sequence_wrong(device: Device) -> None:
    """Too many bytes and too many doubts are refused."""
    words = r"^documents/strip\.toml:1: doubts are carried through up to 65536 bytes; cut the sequence \(65537 bytes\)"
    with pytest.raises(Unsupported, match=words + r" into parts$"):
        read_sequence(device, doubtful(bytes(65_537), at0=(0.9, ((1, 0.1),), 0.0)))
    many = ByteSequence(tuple(SequenceByte(65, 0.5, ((66, 0.5),)) for _ in range(2001)), 0.0, 2)
    with pytest.raises(
        Unsupported, match=r"^documents/strip\.toml:1: 2001 doubtful places are more than 2000; merge more runs first$"
    ):
        read_sequence(device, many)

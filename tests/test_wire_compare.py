"""Streams compared; bench case "ramp through a host" and its kinds."""

from __future__ import annotations

import random

import edlib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from latchlore.base import Span
from latchlore.wire import Step, compare_streams, explain_host

RAMP = bytes(range(256))


def through_host(sent: bytes, width: int) -> bytes:
    """A driver that ends the line after so many bytes of 20h and above."""
    out = bytearray()
    column = 0
    for byte in sent:
        out.append(byte)
        column += byte >= 0x20
        if column == width and byte >= 0x20:
            out += b"\r\n"
            column = 0
    return bytes(out)


def test_explain_host() -> None:
    """260 bytes arrive; 0D 0A behind values 111 and 191: CR LF after every 80 bytes of 20h and above."""
    got = RAMP[:112] + b"\r\n" + RAMP[112:192] + b"\r\n" + RAMP[192:]
    assert len(got) == 260
    assert got == through_host(RAMP, 80)
    report = explain_host(RAMP, got)
    assert [rule.words for rule in report.rules] == [
        "0D 0A is put in after every 80 bytes of 20h and above (control bytes are not counted), 2 times: "
        "the host's doing, to be switched off there"
    ]
    assert not report.unexplained
    differences = compare_streams(RAMP, got)
    assert sorted({d.got_at - (d.got == 0x0A) for d in differences}) == [112, 194]


@pytest.mark.parametrize("width", [20, 40, 72, 100])
def test_explain_host_widths(width: int) -> None:
    """Other line lengths are found as well."""
    report = explain_host(RAMP, through_host(RAMP, width))
    assert f"after every {width} bytes of 20h" in report.rules[0].words
    assert not report.unexplained


def test_explain_host_once() -> None:
    """A line end that comes once is shown with both counts, and no rule is made of it."""
    (rule,) = explain_host(RAMP, through_host(RAMP, 132)).rules
    assert rule.words == (
        "0D 0A is put in once, after 164 bytes (132 of 20h and above): a line end of the host's, it seems; "
        "once tells no rule, so send a longer text"
    )


def test_explain_host_kept_back() -> None:
    """A code that is missing each of several times is kept back; one that was sent once may have been lost."""
    kept = bytes(byte for byte in RAMP * 2 if byte != 0x11)
    assert [rule.words for rule in explain_host(RAMP * 2, kept).rules] == ["the codes 11 never arrive"]
    lost = RAMP[:0x57] + RAMP[0x58:]
    assert [rule.words for rule in explain_host(RAMP, lost).rules] == [
        "the codes 57 did not arrive and were sent once each: kept back by the host, or lost; sending them again tells"
    ]


def test_explain_host_kinds() -> None:
    """Altered, refused and prefixed codes, several at once; what follows no rule is left over."""
    got = bytearray()
    for byte in RAMP:
        if byte in {0x00, 0x11, 0x13}:
            continue
        if byte in {0x1B, 0x9B}:
            got.append(0x10)
        got.append(byte ^ 0x20 if 0x61 <= byte <= 0x7A else byte)
    report = explain_host(RAMP, bytes(got))
    assert [rule.words for rule in report.rules] == [
        "10 is put before each of the codes 1B 9B, 2 times",
        "the codes 61 62 63 64 65 66 67 68 69 6A 6B 6C 6D 6E 6F 70 ... always arrive changed by 20 (exclusive or)",
        "the codes 00 11 13 did not arrive and were sent once each: kept back by the host, or lost; sending them again"
        " tells",
    ]
    assert not report.unexplained
    odd = explain_host(RAMP, RAMP[:50] + b"\xff" + RAMP[50:])
    assert [str(d) for d in odd.unexplained] == ["byte FF arrived at 50 and was not sent"]


@given(st.binary(max_size=60), st.binary(max_size=60))
def test_compare_streams(sent: bytes, got: bytes) -> None:
    """The number of steps is edlib's edit distance, and doing them turns one stream into the other."""
    steps = compare_streams(sent, got)
    if sent and got:
        assert len(steps) == edlib.align(list(sent), list(got))["editDistance"]
    made, at = bytearray(), 0
    for step in steps:
        made += sent[at : step.sent_at]
        at = step.sent_at
        if step.got is not None:
            made.append(step.got)
        if step.sent is not None:
            at += 1
    assert bytes(made + sent[at:]) == got


def test_compare_streams_times() -> None:
    """A loss among equal bytes lies where the pause is twice as long; without times it may lie at any of them."""
    rng = random.Random(1)
    sent = b"A     B"
    times = [Span.of(us=100 * k + rng.randrange(3)) for k in range(7)]
    got, kept = sent[:3] + sent[4:], [*times[:3], *times[4:]]
    (timed,) = compare_streams(sent, got, kept)
    assert (timed.step, timed.sent_at, timed.first, timed.last) == (Step.LOST, 3, 1, 5)
    assert str(timed) == (
        "byte 20 at 3 was sent and did not arrive (or any of the equal ones from 1 to 5); "
        "the pause here is 2.0 times the usual one"
    )
    (plain,) = compare_streams(sent, got)
    assert str(plain).endswith("was sent and did not arrive (or any of the equal ones from 1 to 5)")


def test_compare_streams_wrong() -> None:
    """Times of another number than bytes are refused."""
    with pytest.raises(ValueError, match=r"^one time for each byte that arrived: 1 times, 2 bytes$"):
        compare_streams(b"AB", b"AB", [None])

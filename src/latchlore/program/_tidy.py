"""A tree made ready to be read: conditions as short as the way to them allows, equal subtrees stored once.

What cannot happen on any way to a node is left out of its conditions and bytes; an arm that cannot be taken is
dropped.  Every walk of a real run stays a walk.  Two subtrees are equal where they do the same at the same places of
the program in the same cycles.
"""

from __future__ import annotations

from collections import deque
from dataclasses import replace
from typing import TYPE_CHECKING, TypeAlias

from latchlore.base import Arm, ByteTree, Choice, Condition, Leaf, Link, Node, Wait, Write
from latchlore.program._facts import NOTHING, Bits, Facts, assume, common, forget, keep, live_bits, reduce
from latchlore.program._treewords import Names, condition_words
from latchlore.program._values import TooWideError

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable

    from latchlore.base import Event
    from latchlore.program._values import Value

MAX_CHANGES = 40
"""So often the facts of a node may shrink; then nothing is taken for known there."""

Signature: TypeAlias = "Callable[[Node], Hashable]"


def tidy(tree: ByteTree) -> ByteTree:
    """The same tree in its shortest form; nodes in the order of a walk that takes the first arm first."""
    while True:
        shorter = renumber(join_lines(merge_equal(shorten(tree))))
        if len(shorter.nodes) >= len(tree.nodes):
            return shorter
        tree = shorter


# -- conditions ----------------------------------------------------------------------------------------------------


def shorten(tree: ByteTree) -> ByteTree:
    """Conditions and bytes as simple as what is known on every way to them allows."""
    bits = Bits()
    known = facts_at(tree, bits)
    return replace(tree, nodes=tuple(_shorten(node, known.get(at), bits) for at, node in enumerate(tree.nodes)))


def facts_at(tree: ByteTree, bits: Bits) -> dict[int, Facts]:
    """What holds at the start of each node that can be reached, whichever way leads there."""
    live = live_bits(tree, bits)
    known: dict[int, Facts] = {0: NOTHING}
    changes: dict[int, int] = {}
    work: deque[int] = deque([0])
    while work:
        at = work.popleft()
        facts = walk_events(tree.nodes[at], known[at], bits)
        for condition, target in tree.nodes[at].successors:
            there = facts if condition is None else assume(facts, bits.condition(condition))
            if there is None:
                continue
            there = keep(there, live[target])
            before = known.get(target)
            after = there if before is None else common(before, there)
            if before is not None and after.key == before.key:
                continue
            changes[target] = changes.get(target, 0) + 1
            known[target] = after if changes[target] <= MAX_CHANGES else NOTHING
            if before is None or known[target].key != before.key:
                work.append(target)
    return known


def walk_events(node: Node, facts: Facts, bits: Bits) -> Facts:
    """What is known behind a node's events."""
    for event in node.events:
        facts = after_event(event, facts, bits)
    return facts


def after_event(event: Event, facts: Facts, bits: Bits) -> Facts:
    """What is known behind an event: a read forgets what was read before, a loop ends with what it waited for."""
    if isinstance(event, Write):
        return facts
    facts = forget(facts, bits.read_by(event))
    if isinstance(event, Wait) and event.polls is None:
        return assume(facts, bits.until(event)) or facts
    return facts


def _shorten(node: Node, facts: Facts | None, bits: Bits) -> Node:
    if facts is None:
        return node  # no way leads there
    events: list[Event] = []
    for event in node.events:
        if isinstance(event, Write) and event.value.bits:
            events.append(replace(event, value=bits.as_table(reduce(facts, bits.table(event.value)))))
        else:
            events.append(event)
        facts = after_event(event, facts, bits)
    if not isinstance(node.after, Choice):
        return Node(tuple(events), node.after)
    arms: list[tuple[Value, int]] = []
    for arm in node.after.arms:
        condition = bits.condition(arm.condition)
        if assume(facts, condition) is not None:
            _add_arm(arms, condition, arm.node)
    if len(arms) == 1:
        return Node(tuple(events), Link(arms[0][1]))
    shortened = tuple(Arm(shortest(facts, condition, bits), target) for condition, target in arms)
    return Node(tuple(events), Choice(shortened))


def _add_arm(arms: list[tuple[Value, int]], condition: Value, target: int) -> None:
    """Add a way on; two that lead to the same node are one, unless they look at too many bits together."""
    for k, (other, node) in enumerate(arms):
        if node == target:
            try:
                arms[k] = (condition | other, target)
            except TooWideError:
                continue
            return
    arms.append((condition, target))


def shortest(facts: Facts, condition: Value, bits: Bits) -> Condition:
    """The condition in as few bits and words as the facts allow.

    What cannot be counts as not meeting it, or as meeting it, whichever reads shorter.
    """
    yes = bits.as_condition(reduce(facts, condition))
    no = bits.as_condition(reduce(facts, condition ^ 1))
    other = Condition(no.bits, ((1 << (1 << len(no.bits))) - 1) ^ no.table)
    return min((yes, other), key=lambda one: (len(one.bits), len(condition_words(one, Names()))))


# -- equal subtrees ------------------------------------------------------------------------------------------------


def whole_signature(node: Node) -> Hashable:
    """Everything about a node but where it leads."""
    after = node.after
    return node.events, after if isinstance(after, Leaf) else type(after).__name__


def doing_signature(node: Node) -> Hashable:
    """What a node does, without its cycles and its place in the program."""
    events = []
    for event in node.events:
        match event:
            case Write():
                own: tuple[object, ...] = (event.value,)
            case Wait():
                own = (event.mask, event.until, event.polls, event.turn)
            case _:
                own = (event.turn, event.discarded)
        events.append((type(event).__name__, event.kind, event.address, own))
    after = node.after
    if isinstance(after, Leaf):
        return tuple(events), (after.kind, "" if after.is_done else after.reason)
    return tuple(events), type(after).__name__


def merge_equal(tree: ByteTree, signature: Signature = whole_signature) -> ByteTree:
    """Nodes from which everything is the same are one; the first of them stays, its number too."""
    classes = equal_classes(tree, signature)
    first: dict[int, int] = {}
    for at, name in enumerate(classes):
        first.setdefault(name, at)
    number = [first[name] for name in classes]
    return replace(tree, nodes=tuple(_led_to(node, number) for node in tree.nodes))


def equal_classes(tree: ByteTree, signature: Signature = whole_signature) -> list[int]:
    """A number for each node; two have the same where everything from them on is the same.

    Begins with what the nodes themselves show and parts those that lead to different classes until none is left.
    """
    names: dict[Hashable, int] = {}
    classes = [names.setdefault(signature(node), len(names)) for node in tree.nodes]
    count = len(names)
    sources: dict[int, set[int]] = {}
    for at, node in enumerate(tree.nodes):
        for _, target in node.successors:
            sources.setdefault(target, set()).add(at)
    members: dict[int, list[int]] = {}
    for at, name in enumerate(classes):
        members.setdefault(name, []).append(at)
    words = {node.after: _arm_words(node) for node in tree.nodes if isinstance(node.after, Choice)}
    queue = deque(members)
    stale = set(members)
    while queue:
        name = queue.popleft()
        stale.discard(name)
        groups: dict[Hashable, list[int]] = {}
        for at in members[name]:
            after = tree.nodes[at].after
            texts = words[after] if isinstance(after, Choice) else ("",)
            targets = (classes[target] for _, target in tree.nodes[at].successors)
            groups.setdefault(tuple(sorted(zip(texts, targets, strict=False))), []).append(at)
        if len(groups) == 1:
            continue
        parts = sorted(groups.values(), key=len, reverse=True)
        members[name] = parts[0]
        for part in parts[1:]:
            members[count] = part
            for at in part:
                classes[at] = count
            count += 1
        again = {classes[source] for part in parts[1:] for at in part for source in sources.get(at, ())} - stale
        stale |= again
        queue += sorted(again)
    return classes


def _arm_words(node: Node) -> tuple[object, ...]:
    """What tells the arms of a choice apart."""
    return tuple((tuple(str(bit) for bit in c.bits), c.table) for c, _ in node.successors if c is not None)


def _led_to(node: Node, number: list[int]) -> Node:
    match node.after:
        case Choice(arms):
            return Node(node.events, Choice(tuple(Arm(arm.condition, number[arm.node]) for arm in arms)))
        case Link(target):
            return Node(node.events, Link(number[target]))
        case _:
            return node


# -- lines ---------------------------------------------------------------------------------------------------------


def join_lines(tree: ByteTree) -> ByteTree:
    """A node to which only one link leads becomes part of the one before."""
    incoming = [0] * len(tree.nodes)
    incoming[0] = 1
    reached = _reached(tree)
    for at in reached:
        for _, target in tree.nodes[at].successors:
            incoming[target] += 1
    nodes = list(tree.nodes)
    for at in reached:
        node = nodes[at]
        while isinstance(node.after, Link) and incoming[node.after.node] == 1 and node.after.node != at:
            follower = nodes[node.after.node]
            node = Node((*node.events, *follower.events), follower.after)
        nodes[at] = node
    return replace(tree, nodes=tuple(nodes))


def _reached(tree: ByteTree) -> list[int]:
    order: list[int] = []
    seen: set[int] = set()
    stack = [0]
    while stack:
        at = stack.pop()
        if at in seen:
            continue
        seen.add(at)
        order.append(at)
        stack += [target for _, target in reversed(tree.nodes[at].successors)]
    return order


def renumber(tree: ByteTree) -> ByteTree:
    """Nodes that are reached, in the order of a walk that takes the first arm first."""
    order = _reached(tree)
    number = [0] * len(tree.nodes)
    for new, old in enumerate(order):
        number[old] = new
    return replace(tree, nodes=tuple(_led_to(tree.nodes[old], number) for old in order))

"""How far the numbers of a merge can be trusted, on merges that the curve was not fitted to."""

from __future__ import annotations

import math

from latchlore.wire._calibration import calibrated
from tests.mergegrid import iter_samples

EDGES = (0.0, 0.1, 0.3, 0.5, 0.7, 0.85, 0.95, 0.99, 1.01)


def test_calibration() -> None:
    """Whole: said and seen within .05 in every bin (and its sampling error); bytes: Brier score below .002."""
    bins: list[list[tuple[float, bool]]] = [[] for _ in EDGES[1:]]
    squares, count = 0.0, 0
    for sample in iter_samples(range(70000, 78000)):
        said = calibrated(sample.whole)
        place = next(k for k, edge in enumerate(EDGES[1:]) if said < edge)
        bins[place].append((said, sample.right))
        if sample.num_runs >= 8:
            for confidence, right in zip(sample.bytes_said, sample.bytes_right, strict=True):
                squares += (confidence - right) ** 2
                count += 1
    print(f"Brier score of {count} bytes: {squares / count:.5f}")
    assert squares / count < 0.002
    for edge, found in zip(EDGES, bins, strict=False):
        if found:
            said = sum(one for one, _ in found) / len(found)
            seen = sum(right for _, right in found) / len(found)
            error = 2 * math.sqrt(max(said * (1 - said), 1e-4) / len(found))
            print(f"from {edge}: {len(found)} merges, said {said:.3f}, seen {seen:.3f}")
            assert abs(said - seen) <= 0.05 + error

"""Lines with nothing near their middle, where they can be cut in two."""

from __future__ import annotations

from typing import Any

import numpy as np

NODE, LENGTH = 4000.0, 8000.0
BAND = 250.0


def halves(seed: int) -> tuple[dict[str, Any], float, float]:
    """A line with heads and a beam or two at either end; where to cut it, and its pitch (mm per m).

    What is counted by run (styles, how far each begins off its nominal level)
    costs nothing here: cut in two, a line has more of it.
    """
    rng = np.random.default_rng(seed)
    dry = seed % 2 == 1
    pitch = 4.0 if dry and seed % 4 == 1 else 0.0
    heads: list[dict[str, Any]] = []
    for half, (low, high) in enumerate(((400.0, 2400.0), (5600.0, 7700.0))):
        for k, x in enumerate(np.sort(rng.uniform(low, high, int(rng.integers(1, 4))))):
            kind = "upright" if dry else str(rng.choice(["pendent", "upright"]))
            lateral = 0.0 if rng.random() < 0.2 else float(rng.choice([-1, 1]) * rng.uniform(80, 900))
            z = float(rng.uniform(2400, 2900) if kind == "pendent" else rng.uniform(3150, 3700))
            at = [round(float(x), 1), round(lateral, 1), round(z, 1)]
            heads.append({"id": f"H{half}{k}", "at": at, "kind": kind})
    beams = []
    for half, (low, high) in enumerate(((300.0, 2400.0), (5600.0, 7500.0))):
        if rng.random() < 0.6:
            x, width = rng.uniform(low, high), rng.uniform(80, 250)
            corners = [[x, -700], [x + width, -700], [x + width, 700], [x, 700]]
            z = float(rng.uniform(2900, 3150))
            if not any(x - 1 < h["at"][0] < x + width + 1 for h in heads):  # no head inside
                polygon = [[round(float(v), 1) for v in p] for p in corners]
                beams.append({"id": f"beam {half}", "polygon": polygon, "elevations": [z, z + 350.0]})
    data = {
        "name": f"halves {seed}",
        "system": {"kind": "dry" if dry else "wet", "pitch_branch": pitch},
        "runs": [
            {
                "id": "B",
                "plan": [[0.0, 0.0], [LENGTH, 0.0]],
                "elevation": 3000.0,
                "band": [3000.0 - BAND, 3000.0 + BAND],
                "size": 32,
            }
        ],
        "heads": heads,
        "obstructions": beams,
        "rules": {"slide": 120.0},
        "weights": {"style": 0.0, "moved": 0.0, "unserved": 200000.0},
    }
    return data, NODE, pitch

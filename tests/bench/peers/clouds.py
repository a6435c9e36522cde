"""Nearest points: a cloud of a million points and places near it, and SciPy's cKDTree on the same.

The cloud is spread evenly over the surface of tests/data/two-wheeler/frame.stl; the places lie within 30 mm (each axis)
of one of its points, once in no order and once along a Z-curve.
"""
import pathlib
import time

import numpy as np
from scipy.spatial import cKDTree

POINTS, PLACES = 1_000_000, 50_000
FRAME = pathlib.Path(__file__).parents[2] / "data" / "two-wheeler" / "frame.stl"


def make(folder):
    """Writes `cloud`, `random` and `sorted`: rows of three doubles [m]."""
    triangles = np.frombuffer(
        FRAME.read_bytes()[84:], np.dtype([("n", "<f4", 3), ("p", "<f4", (3, 3)), ("a", "<u2")]))["p"].astype(float)
    random = np.random.default_rng(1)
    a, b, c = triangles.transpose(1, 0, 2)
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    which = random.choice(len(area), POINTS, p=area / area.sum())
    u, v = random.random((2, POINTS, 1))
    u, v = np.where(u + v > 1, 1 - u, u), np.where(u + v > 1, 1 - v, v)
    cloud = a[which] + u * (b - a)[which] + v * (c - a)[which]
    places = cloud[random.choice(POINTS, PLACES)] + 0.03 * random.uniform(-1, 1, (PLACES, 3))
    cells = ((places - places.min(0)) / np.ptp(places, axis=0).max() * 1023).astype(np.int64)
    code = sum(((cells >> bit) & 1) @ np.array([4, 2, 1]) << 3 * bit for bit in range(10))
    made = {"cloud": cloud, "random": places, "sorted": places[np.argsort(code)]}
    for name, rows in made.items():
        (folder / name).write_bytes(np.ascontiguousarray(rows).tobytes())
    return made


def nearest(made):
    """Seconds a query by order, the sum of all distances, and the leaf size: the best of those tried."""
    best = {}
    for leaf in (8, 16, 32, 64):
        tree = cKDTree(made["cloud"], leafsize=leaf)
        for order in ("random", "sorted"):
            for _ in range(3):
                began = time.process_time()
                away, _ = tree.query(made[order], workers=1)
                took = (time.process_time() - began) / PLACES
                if order not in best or took < best[order][0]:
                    best[order] = (took, float(away.sum()), leaf)
    return best

"""SciPy's solve_bvp: fourth-order collocation of the Kirchhoff rod, with analytic Jacobians and continuation.

State: place, quaternion, force, moment; lengths by the rod's length, forces by EI/L², moments by EI/L. Each pose starts
from the mesh and the solution of its neighbour.
"""
import time

import numpy as np
from scipy.integrate import solve_bvp

from problem import ANGLES, BEND, G, LENGTH, MASS, REST, START, START_FACING, STRETCH, TWIST, end, sides
from kirchhoff import Rod, guess

GJ = TWIST / BEND
EA = STRETCH * LENGTH**2 / BEND
WEIGHT = np.array([0.0, 0.0, -MASS * G * LENGTH**3 / BEND])


def directors(q):
    w, x, y, z = q
    d1 = np.array([1 - 2 * (y * y + z * z), 2 * (x * y + w * z), 2 * (x * z - w * y)])
    d2 = np.array([2 * (x * y - w * z), 1 - 2 * (x * x + z * z), 2 * (y * z + w * x)])
    d3 = np.array([2 * (x * z + w * y), 2 * (y * z - w * x), 1 - 2 * (x * x + y * y)])
    return d1, d2, d3


def slopes_of_directors(q):
    w, x, y, z = 2 * q
    o = np.zeros_like(w)
    d1 = np.array([[o, o, -2 * y, -2 * z], [z, y, x, w], [-y, z, -w, x]])
    d2 = np.array([[-z, y, x, -w], [o, -2 * x, o, -2 * z], [x, w, z, y]])
    d3 = np.array([[y, z, w, x], [-x, -w, z, y], [o, -2 * x, -2 * y, o]])
    return d1, d2, d3


def left(q):
    """p -> q p as a matrix."""
    w, x, y, z = q
    return np.array([[w, -x, -y, -z], [x, w, -z, y], [y, z, w, -x], [z, -y, x, w]])


def right(u):
    """q -> q u for a pure u as a matrix."""
    a, b, c = u
    o = np.zeros_like(a)
    return np.array([[o, -a, -b, -c], [a, o, c, -b], [b, -c, o, a], [c, b, -a, o]])


def skew(v):
    x, y, z = v
    o = np.zeros_like(x)
    return np.array([[o, -z, y], [z, o, -x], [-y, x, o]])


def parts(y):
    q, n, m = y[3:7], y[7:10], y[10:13]
    d1, d2, d3 = directors(q)
    stretched = 1 + np.sum(n * d3, axis=0) / EA
    u = np.array([np.sum(m * d1, axis=0), np.sum(m * d2, axis=0), np.sum(m * d3, axis=0) / GJ])
    return q, n, m, (d1, d2, d3), stretched, u


def slope(_, y):
    q, n, _, d, v, u = parts(y)
    out = np.empty_like(y)
    out[0:3] = v * d[2]
    out[3:7] = 0.5 * np.einsum("ijk,jk->ik", right(u), q)
    out[7:10] = -WEIGHT[:, None]
    out[10:13] = np.cross(n, out[0:3], axis=0)
    return out


def jacobian(_, y):
    q, n, m, d, v, u = parts(y)
    s1, s2, s3 = slopes_of_directors(q)
    jac = np.zeros((13, 13, y.shape[1]))
    run_q = v * s3 + d[2][:, None] * np.einsum("ik,ijk->jk", n, s3)[None] / EA
    run_n = d[2][:, None] * d[2][None] / EA
    jac[0:3, 3:7], jac[0:3, 7:10] = run_q, run_n
    u_q = np.array([np.einsum("ik,ijk->jk", m, s) for s in (s1, s2, s3)])
    u_q[2] /= GJ
    u_m = np.array([d[0], d[1], d[2] / GJ])
    turn = left(q)[:, 1:]
    jac[3:7, 3:7] = 0.5 * (right(u) + np.einsum("ijk,jlk->ilk", turn, u_q))
    jac[3:7, 10:13] = 0.5 * np.einsum("ijk,jlk->ilk", turn, u_m)
    force, run = skew(n), skew(v * d[2])
    jac[10:13, 3:7] = np.einsum("ijk,jlk->ilk", force, run_q)
    jac[10:13, 7:10] = np.einsum("ijk,jlk->ilk", force, run_n) - run
    return jac


def clamped(place, attitude):
    """Boundary conditions of a pose, and their Jacobian."""
    inverse = left(attitude * np.array([1, -1, -1, -1]))[1:]

    def residual(a, b):
        return np.concatenate([
            a[0:3] - START / LENGTH, a[3:7] - START_FACING, b[0:3] - place / LENGTH, 2 * inverse @ b[3:7],
        ])

    at_start, at_end = np.zeros((13, 13)), np.zeros((13, 13))
    at_start[0:7, 0:7] = np.eye(7)
    at_end[7:10, 0:3] = np.eye(3)
    at_end[10:13, 3:7] = 2 * inverse
    return residual, lambda a, b: (at_start, at_end)


def tightest(solution):
    """Radius of the sharpest bend, from the solution's own polynomials."""
    y = solution.sol(np.linspace(0, 1, 2001))
    _, _, m, d, stretched, _ = parts(y)
    bend = np.hypot(np.sum(m * d[0], axis=0), np.sum(m * d[1], axis=0)) / stretched
    at = int(bend.argmax())
    if 0 < at < bend.size - 1:
        before, here, after = bend[at - 1:at + 2]
        return LENGTH / (here - 0.125 * (before - after)**2 / (before + after - 2 * here))
    return LENGTH / bend[at]


def rest(tolerance):
    """The pose at rest, and the end's roll in which nothing is twisted there."""
    rod = Rod([LENGTH], BEND, TWIST, STRETCH, MASS, tol=tolerance)
    place, attitude = end(0, 0.0)
    holds = [(START, START_FACING), (place, attitude)]
    tried = []
    for side in ([0, 0, 1.0], [0, 0, -1.0], [0, 1.0, 0], [0, -1.0, 0]):
        found = rod.solve(holds, guess(rod, holds, [np.array(side)], 0.2), twist_free=True)
        if found.success:
            tried.append((rod.measure(found)[1], found))
    found = min(tried, key=lambda pair: pair[0])[1]
    q = found.y[3:7, -1] / np.linalg.norm(found.y[3:7, -1])
    d1, _, _ = directors(q)
    t1, t2, _ = directors(attitude)
    return found, np.arctan2(d1 @ t2, d1 @ t1)


def sweep(tolerance, nodes, start, roll):
    """Seconds a pose and radii of all 41 poses. `start` is the shape at rest, taken at so many nodes (0: its own)."""
    solved = [None] * len(ANGLES)

    def pose(index, x, y):
        residual, slopes = clamped(*end(ANGLES[index], roll))
        solved[index] = solve_bvp(
            slope, residual, x, y, fun_jac=jacobian, bc_jac=slopes, tol=tolerance, max_nodes=4000)
        assert solved[index].success, (index, solved[index].message)

    x = np.linspace(0, 1, nodes) if nodes else start.x
    began = time.process_time()
    pose(REST, x, start.sol(x))
    for side in sides():
        near = solved[REST]
        for index in side:
            pose(index, near.x, near.y)
            near = solved[index]
    seconds = (time.process_time() - began) / len(ANGLES)
    return seconds, np.array([tightest(s) for s in solved])

"""The lock sweep that all peers solve: one span between a clamp on the frame and one on the steering, 41 angles.

The same numbers as `Rig::steered(0.232, 0.09)` in tests/rod/rig.rs, held inextensible. Metres, newtons, radians;
quaternions take the third director along the rod.
"""
import pathlib
import sys

import numpy as np

sys.path.insert(0, str(pathlib.Path(__file__).parents[2] / "data" / "rod"))
from kirchhoff import G, axis_q, cols, q_facing, qmul, rot  # noqa: E402,F401

LENGTH = 0.232
BEND = 0.004
TWIST = 0.0027
STRETCH = 1e9
MASS = 0.09
RAKE = np.radians(30.0)
AXIS = np.array([-np.sin(RAKE), 0.0, np.cos(RAKE)])
START = np.array([-0.095, 0.028, 0.035])
START_FACING = q_facing([1.0, 0.0, 0.2])
END = np.array([0.070, 0.025, 0.120])
END_FACING = q_facing([0.0, 0.0, 1.0])
ANGLES = np.arange(-40, 41, 2)
REST = 20
#: Radius of the round rod where a peer wants one [m]: it only turns EI and GJ into moduli.
ROUND = 0.004
INERTIA = 0.25 * np.pi * ROUND**4


def end(angle_deg, roll):
    """Place and attitude of the end; `roll` is its turn about itself at rest, where nothing twists it."""
    turn = axis_q(AXIS, np.radians(angle_deg))
    return rot(turn, END), qmul(turn, qmul(END_FACING, axis_q([0, 0, 1.0], roll)))


def sides():
    """The order in which poses are solved: from rest to either stop."""
    return [range(REST + 1, len(ANGLES)), range(REST - 1, -1, -1)]


def least_radius(bend):
    """Tightest radius from curvatures at even distances, the first and last half a distance from the clamps.

    At a clamp along the line through the two next to it, elsewhere by the parabola through the greatest and its
    neighbours.
    """
    bend = np.concatenate([[1.5 * bend[0] - 0.5 * bend[1]], bend, [1.5 * bend[-1] - 0.5 * bend[-2]]])
    at = int(bend.argmax())
    if 1 < at < bend.size - 2:
        before, here, after = bend[at - 1:at + 2]
        return 1.0 / (here - 0.125 * (before - after)**2 / (before + after - 2 * here))
    return 1.0 / bend[at]


def worst(radii, reference):
    """Greatest relative error of the tightest radius over all poses."""
    return float(np.abs(np.asarray(radii) / reference - 1.0).max())

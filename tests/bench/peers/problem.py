"""The lock sweep that all peers solve: one span between a clamp on the frame and one on the steering, 41 angles.

The same numbers as `Rig::steered(0.232, 0.09)` in tests/rod/rig.rs. Metres, newtons, radians; quaternions take the third
director along the rod.
"""
import pathlib
import sys

import numpy as np

sys.path.insert(0, str(pathlib.Path(__file__).parents[2] / "data" / "rod"))
from kirchhoff import G, axis_q, cols, q_facing, qmul, rot  # noqa: E402,F401

LENGTH = 0.232
BEND = 0.004
TWIST = 0.0027
STRETCH = 4e4
MASS = 0.09
RAKE = np.radians(30.0)
AXIS = np.array([-np.sin(RAKE), 0.0, np.cos(RAKE)])
START = np.array([-0.095, 0.028, 0.035])
START_FACING = q_facing([1.0, 0.0, 0.2])
END = np.array([0.070, 0.025, 0.120])
END_FACING = q_facing([0.0, 0.0, 1.0])
ANGLES = np.arange(-40, 41, 2)
REST = 20


def end(angle_deg, roll):
    """Place and attitude of the end; `roll` is its turn about itself at rest, where nothing twists it."""
    turn = axis_q(AXIS, np.radians(angle_deg))
    return rot(turn, END), qmul(turn, qmul(END_FACING, axis_q([0, 0, 1.0], roll)))


def outward():
    """The order in which poses are solved: from rest to either stop. Pairs of pose and the pose before."""
    right = [(i, i - 1) for i in range(REST + 1, len(ANGLES))]
    left = [(i, i + 1) for i in range(REST - 1, -1, -1)]
    return right + left

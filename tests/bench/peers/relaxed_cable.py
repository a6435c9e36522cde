"""MuJoCo: its cable plugin between two clamps, the end led to each pose and damped until it rests.

A chain of stiff links joined by ball joints, welded to the world at one end and to a led body at the other. It begins in
the shape that collocation found at rest, straight links through its points, with the plugin told that it is straight.
"""
import time

import mujoco
import numpy as np

from problem import (ANGLES, BEND, G, LENGTH, MASS, REST, TWIST, cols, end, outward, qmul)

RADIUS = 0.004
#: Speed below which the chain rests [rad/s], and the longest that is waited for it [s].
STILL, LONGEST = 1e-3, 1.0
#: Time in which the end is led to the next pose [s], and the time step [s].
LEAD, STEP = 0.05, 1e-3
#: Torque of a joint by its speed [N m s]: about critical for the slowest motion.
DAMPING = 1e-4
CONJUGATE = np.array([1.0, -1, -1, -1])


def model(links):
    """Bodies in a chain, each a link along its own x; moduli so that EI and GJ are those of the problem."""
    link = LENGTH / links
    inertia = 0.25 * np.pi * RADIUS**4
    chain, close = "", ""
    for i in range(links):
        place = "0 0 0" if i == 0 else f"{link} 0 0"
        joint = "" if i == 0 else f'<joint name="j{i}" type="ball" damping="{DAMPING}"/>'
        chain += (
            f'<body name="b{i}" pos="{place}">{joint}'
            f'<geom name="g{i}" type="capsule" size="{RADIUS}" fromto="0 0 0 {link} 0 0" mass="{MASS * link}" '
            'contype="0" conaffinity="0"/>'
            '<plugin instance="cable"/>')
        close += "</body>"
    return mujoco.MjModel.from_xml_string(f"""
<mujoco>
  <extension><plugin plugin="mujoco.elasticity.cable"><instance name="cable">
    <config key="twist" value="{TWIST / (2 * inertia)}"/><config key="bend" value="{BEND / inertia}"/>
    <config key="flat" value="true"/>
  </instance></plugin></extension>
  <option timestep="{STEP}" integrator="implicitfast" gravity="0 0 {-G}" iterations="100" tolerance="1e-12"/>
  <worldbody>
    <body name="root" pos="0 0 0">{chain}{close}</body>
    <body name="led" mocap="true"/>
  </worldbody>
  <equality>
    <weld name="end" body1="led" body2="b{links - 1}" solref="0.002 1" solimp="0.9999 0.9999 0.001"/>
  </equality>
</mujoco>""")


def attitudes(shape, links):
    """Attitudes of the links, x along the rod, from the directors of a solution (whose third is along it)."""
    q = shape((np.arange(links) + 0.5) / links)[3:7]
    return np.array([forward(a) for a in (q / np.linalg.norm(q, axis=0)).T])


def forward(q):
    """From the third director along the rod to the first axis."""
    return qmul(q, np.array([0.5, -0.5, -0.5, -0.5]))

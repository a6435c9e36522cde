"""MuJoCo: its cable plugin on a chain of stiff links with ball joints between them.

The first link is fixed and the last is welded to a led body, both by their middles, half of each beyond the clamps. The
chain begins in the shape that collocation found at rest; the plugin is told that it is straight. `armature` is inertia
added to the joints, which a shape at rest does not depend on; with it and damping that the integrator takes implicitly
the time step may be long.
"""
import mujoco
import numpy as np

import relaxing
from problem import (ANGLES, BEND, G, INERTIA, LENGTH, MASS, REST, ROUND, START, START_FACING, TWIST, end, least_radius,
                     qmul, rot)

#: With the true inertia, from the neighbour's pose, damped about critically, until nothing moves.
PLAIN = dict(links=21, damping=3e-4, armature=0.0, step=2e-4, still=1e-2, order=0, every=20)
#: At rest all the same, the step as long as it may be and damped as much as helps.
QUICK = [dict(links=11, damping=1e-3, armature=0.0, step=1e-3, still=1e-2, order=0, every=20),
         dict(links=15, damping=1e-3, armature=0.0, step=5e-4, still=1e-2, order=0, every=20)]
#: What of all that was tried came soonest below an error of about 1e-2, 3e-3 and 1e-3.
ROWS = [
    ("plain", PLAIN),
    ("quick, coarse", QUICK[0]),
    ("quick, middling", QUICK[1]),
    ("tuned, coarse", dict(links=13, damping=0.01, armature=1e-4, step=0.01, still=0.1, order=1, every=3)),
    ("tuned, middling", dict(links=17, damping=0.01, armature=1e-5, step=0.01, still=0.03, order=1, every=3)),
    ("tuned, fine", dict(links=21, damping=0.01, armature=1e-5, step=0.003, still=0.03, order=0, every=3)),
]
CONJUGATE = np.array([1.0, -1.0, -1.0, -1.0])
#: From the third director along the rod to the link's first axis.
FORWARD = np.array([0.5, -0.5, -0.5, -0.5])


def words(numbers):
    return " ".join(f"{n:.17g}" for n in numbers)


def model(links, damping, armature, step):
    """Bodies in a chain, each a link along its own x; moduli so that EI and GJ are those of the problem."""
    cell = LENGTH / (links - 1)
    place, attitude = clamp(START, START_FACING, cell)
    chain = ""
    for i in range(links):
        where = f'pos="{words(place)}" quat="{words(attitude)}"' if i == 0 else f'pos="{cell:.17g} 0 0"'
        joint = "" if i == 0 else f'<joint type="ball" damping="{damping}" armature="{armature}"/>'
        chain += (
            f'<body name="b{i}" {where}>{joint}'
            f'<geom type="capsule" size="{ROUND}" fromto="0 0 0 {cell:.17g} 0 0" mass="{MASS * cell:.17g}"/>'
            '<plugin instance="cable"/>')
    return mujoco.MjModel.from_xml_string(f"""
<mujoco>
  <extension><plugin plugin="mujoco.elasticity.cable"><instance name="cable">
    <config key="twist" value="{TWIST / (2 * INERTIA)}"/><config key="bend" value="{BEND / INERTIA}"/>
    <config key="flat" value="true"/>
  </instance></plugin></extension>
  <option timestep="{step}" integrator="implicitfast" gravity="0 0 {-G}" tolerance="1e-12">
    <flag contact="disable"/>
  </option>
  <worldbody>{chain}{"</body>" * links}<body name="led" mocap="true"/></worldbody>
  <equality>
    <weld body1="led" body2="b{links - 1}" relpose="0 0 0 1 0 0 0" solref="{2 * step} 1"
      solimp="0.9999 0.9999 0.001"/>
  </equality>
</mujoco>""")


def clamp(place, attitude, cell):
    """Where a link begins whose middle is clamped, and how it stands."""
    return place - 0.5 * cell * rot(attitude, np.array([0, 0, 1.0])), qmul(attitude, FORWARD)


class Cable:
    """A chain at rest in the middle pose, begun from the shape that `solution` has there."""

    def __init__(self, solution, roll, links, damping, armature, step):
        self.roll, self.cell = roll, LENGTH / (links - 1)
        self.model = model(links, damping, armature, step)
        self.data = mujoco.MjData(self.model)
        stand = solution.sol(np.arange(links) / (links - 1))[3:7]
        stand = [qmul(q, FORWARD) for q in (stand / np.linalg.norm(stand, axis=0)).T]
        self.put([np.concatenate([qmul(a * CONJUGATE, b) for a, b in zip(stand[:-1], stand[1:])])])
        self.lead(REST)
        self.step(max(200, int(0.5 / step)))

    def lead(self, index):
        place, attitude = end(ANGLES[index], self.roll)
        self.data.mocap_pos[0], self.data.mocap_quat[0] = clamp(place, attitude, self.cell)

    def state(self):
        return [self.data.qpos.copy()]

    def put(self, state):
        self.data.qpos[:] = state[0]
        mujoco.mj_normalizeQuat(self.model, self.data.qpos)
        self.data.qvel[:] = 0.0
        self.data.qacc_warmstart[:] = 0.0

    def step(self, count):
        mujoco.mj_step(self.model, self.data, nstep=count)

    def speed(self):
        return np.abs(self.data.qvel).max()

    def radius(self):
        turns = self.data.qpos.reshape(-1, 4)
        half = np.linalg.norm(turns[:, 1:], axis=1)
        angles = 2 * np.arctan2(half, np.abs(turns[:, 0]))
        across = np.hypot(turns[:, 2], turns[:, 3]) / np.maximum(half, 1e-300)
        return least_radius(angles * across / self.cell)


def sweep(solution, roll, still, order, every=5, **settings):
    return relaxing.sweep(Cable(solution, roll, **settings), still, order, every)

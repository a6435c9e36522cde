"""PyElastica: a Cosserat rod between two clamps.

The clamps hold the middles of the first and the last element, half of which stand beyond them, so that the clamp itself
is second order like the rest. `soft` is the stiffness in tension and shear [N]: by its round section it would be some
thousand times that and the time step as much shorter; its error is part of the row's. `spin` multiplies the inertia of
turning, which a shape at rest does not depend on: with the true one the time step is the shear's, not the rod's.
"""
import elastica as ea
import numba
import numpy as np

import relaxing
from collocation import directors
from problem import (ANGLES, BEND, G, INERTIA, LENGTH, MASS, REST, ROUND, START, TWIST, cols, end, least_radius)

#: With the true inertia, from the neighbour's pose, damped about critically, until nothing moves.
PLAIN = dict(elements=25, soft=5000.0, spin=1.0, damping=2.0, still=1e-2, order=0)
#: At rest all the same, as soft in tension and shear as the error allows.
QUICK = dict(elements=15, soft=2000.0, spin=1.0, damping=2.0, still=1e-2, order=0)
#: What of all that was tried came soonest below an error of about 1e-2, 3e-3 and 1e-3.
ROWS = [
    ("plain", PLAIN),
    ("quick, coarse", QUICK),
    ("tuned, coarse", dict(elements=11, soft=2000.0, spin=60.0, damping=3.0, still=0.1, order=1)),
    ("tuned, middling", dict(elements=25, soft=20_000.0, spin=60.0, damping=3.0, still=0.1, order=1)),
    ("tuned, fine", dict(elements=25, soft=20_000.0, spin=60.0, damping=3.0, still=0.01, order=0)),
]
#: Share of the longest stable time step.
SAFE = 0.9


class Sim(ea.BaseSystemCollection, ea.Constraints, ea.Forcing, ea.Damping):
    pass


@numba.njit(cache=True)
def hold_places(places, frames, start, last, start_frame, last_frame):
    places[:, :2] = start
    places[:, -2:] = last
    frames[..., 0] = start_frame
    frames[..., -1] = last_frame


@numba.njit(cache=True)
def hold_rates(speeds, turning):
    speeds[:, :2] = 0.0
    speeds[:, -2:] = 0.0
    turning[:, 0] = 0.0
    turning[:, -1] = 0.0


class Clamps(ea.ConstraintBase):
    """The two clamped elements, where `held` says."""

    def __init__(self, held, **kwargs):
        super().__init__(**kwargs)
        self.held = held

    def constrain_values(self, system, time):
        hold_places(system.position_collection, system.director_collection, *self.held)

    def constrain_rates(self, system, time):
        hold_rates(system.velocity_collection, system.omega_collection)


class Rod:
    """A rod at rest in the middle pose, begun from the shape that `solution` has there."""

    def __init__(self, solution, roll, elements, soft, spin, damping):
        self.roll, self.cell = roll, LENGTH / (elements - 1)
        middles = solution.sol(np.arange(elements) / (elements - 1))[3:7]
        frames = np.array(directors(middles / np.linalg.norm(middles, axis=0)))
        first = frames[..., 0].copy()
        rod = ea.CosseratRod.straight_rod(
            elements, START, first[2], first[0], LENGTH + self.cell, ROUND, MASS / (np.pi * ROUND**2),
            youngs_modulus=BEND / INERTIA, shear_modulus=TWIST / (2 * INERTIA))
        for axis in range(3):
            rod.shear_matrix[axis, axis] = soft
        rod.mass_second_moment_of_inertia *= spin
        rod.inv_mass_second_moment_of_inertia /= spin
        rod.director_collection[:] = frames
        rod.position_collection[:, 1:-1] = solution.sol((np.arange(elements - 1) + 0.5) / (elements - 1))[:3] * LENGTH
        self.rod = rod
        self.held = [self.ends(START, first[2]), None, first, None]
        self.lead(REST)
        turning = rod.mass_second_moment_of_inertia[0, 0, elements // 2] / self.cell
        fastest = np.sqrt(4 * soft / MASS / self.cell**2 + soft / turning + 4 * BEND / self.cell**2 / turning)
        self.step_length = SAFE * 2 / fastest
        self.sim = Sim()
        self.sim.append(rod)
        self.sim.constrain(rod).using(Clamps, held=self.held)
        self.sim.add_forcing_to(rod).using(ea.GravityForces, acc_gravity=np.array([0.0, 0.0, -G]))
        slowest = 22.4 / LENGTH**2 * np.sqrt(BEND / MASS)
        self.sim.dampen(rod).using(
            ea.AnalyticalLinearDamper, uniform_damping_constant=damping * slowest, time_step=self.step_length)
        self.sim.finalize()
        self.stepper, self.now = ea.PositionVerlet(), np.float64(0.0)
        self.step(int(0.3 / self.step_length))

    def ends(self, place, along):
        return np.stack([place - 0.5 * self.cell * along, place + 0.5 * self.cell * along], axis=1)

    def lead(self, index):
        place, attitude = end(ANGLES[index], self.roll)
        frame = np.array(cols(attitude))
        self.held[1], self.held[3] = self.ends(place, frame[2]), frame

    def state(self):
        return [self.rod.position_collection.copy(), self.rod.director_collection.copy()]

    def put(self, state):
        self.rod.position_collection[:] = state[0]
        left, _, right = np.linalg.svd(np.moveaxis(state[1], 2, 0))
        self.rod.director_collection[:] = np.moveaxis(left @ right, 0, 2)
        self.rod.velocity_collection[:] = 0.0
        self.rod.omega_collection[:] = 0.0

    def step(self, count):
        for _ in range(count):
            self.now = self.stepper.step(self.sim, self.now, self.step_length)

    def speed(self):
        return np.abs(self.rod.velocity_collection).max()

    def radius(self):
        return least_radius(np.hypot(self.rod.kappa[0], self.rod.kappa[1]))


def sweep(solution, roll, still, order, every=20, **settings):
    return relaxing.sweep(Rod(solution, roll, **settings), still, order, every)

"""PyElastica: a Cosserat rod, its end led to each pose and damped until it rests.

The rod starts in the shape that collocation found at rest. Each pose starts from the neighbour's: the end is led there
smoothly, then the rod is left to settle until nothing moves faster than `STILL`.
"""
import time

import elastica as ea
import numpy as np

from problem import (ANGLES, BEND, G, LENGTH, MASS, REST, START, TWIST, cols, end, outward)

RADIUS = 0.004
#: Speed below which the rod rests [m/s].
STILL = 1e-4
#: Time in which the end is led to the next pose, and the longest that is waited then [s].
LEAD, LONGEST = 0.02, 0.3
#: Damping of speeds [1/s]: critical for the slowest motion of this span, 2 × 22.4/L² √(EI/m).
DAMPING = 2 * 22.4 / LENGTH**2 * np.sqrt(BEND / MASS)
#: Softer in tension and shear than the problem, which allows longer steps and changes the shape by less than 0.1 %.
SOFT = 1000.0


class Sim(ea.BaseSystemCollection, ea.Constraints, ea.Forcing, ea.Damping):
    pass


class Ends(ea.ConstraintBase):
    """Both ends' places and directors; the other end moves at given speeds."""

    def __init__(self, led, **kwargs):
        super().__init__(**kwargs)
        self.led = led

    def constrain_values(self, system, time):
        place, frame = self.led.at(time)
        system.position_collection[:, 0] = self.led.start
        system.director_collection[..., 0] = self.led.start_frame
        system.position_collection[:, -1] = place
        system.director_collection[..., -1] = frame

    def constrain_rates(self, system, time):
        for rates in (system.velocity_collection, system.omega_collection):
            rates[:, 0] = 0.0
            rates[:, -1] = 0.0


class Led:
    """Where the end is: from one angle to another, smoothly."""

    def __init__(self, start_frame, roll):
        self.start, self.start_frame, self.roll = START, start_frame, roll
        self.begin(0.0, 0.0, 0.0)

    def begin(self, now, before, after):
        self.now, self.before, self.after = now, before, after

    def at(self, now):
        share = np.clip((now - self.now) / LEAD, 0.0, 1.0)
        share = share * share * (3 - 2 * share)
        place, attitude = end(self.before + share * (self.after - self.before), self.roll)
        return place, np.array(cols(attitude))


def sweep(elements, shape, roll, poses=None):
    """Seconds a pose and tightest radii of the poses (all, or indices), from the shape that `shape(x)` gives at rest."""
    place0 = shape(np.array([0.0, 1.0]))
    x = np.linspace(0, 1, elements + 1)
    nodes, middles = shape(x)[0:3] * LENGTH, shape(0.5 * (x[1:] + x[:-1]))
    attitudes = middles[3:7] / np.linalg.norm(middles[3:7], axis=0)
    frames = np.array([np.array(cols(q)) for q in attitudes.T]).transpose(1, 2, 0)
    first = np.array(cols(place0[3:7, 0]))
    volume = np.pi * RADIUS**2
    inertia = 0.25 * np.pi * RADIUS**4
    young = BEND / inertia
    rod = ea.CosseratRod.straight_rod(
        elements, START, first[2], first[0], LENGTH, RADIUS, MASS / volume, youngs_modulus=young,
        shear_modulus=TWIST / (2 * inertia))
    # By its round section it would be far stiffer.
    for axis in range(3):
        rod.shear_matrix[axis, axis] = SOFT
    rod.position_collection[:] = nodes
    rod.director_collection[:] = frames
    sim = Sim()
    sim.append(rod)
    led = Led(first, roll)
    sim.constrain(rod).using(Ends, led=led)
    sim.add_forcing_to(rod).using(ea.GravityForces, acc_gravity=np.array([0.0, 0.0, -G]))
    step = 0.25 * (LENGTH / elements) * np.sqrt(MASS / SOFT)
    sim.dampen(rod).using(ea.AnalyticalLinearDamper, uniform_damping_constant=DAMPING, time_step=step)
    sim.finalize()
    stepper = ea.PositionVerlet()
    now = 0.0

    def settle(before, after):
        nonlocal now
        led.begin(now, before, after)
        until, began = now + LEAD, now
        while True:
            for _ in range(100):
                now = stepper.step(sim, now, step)
            moving = np.abs(rod.velocity_collection).max()
            if (now > until and moving < STILL) or now - began > LONGEST:
                return

    def tightest():
        bend = np.hypot(rod.kappa[0], rod.kappa[1])
        ends = [1.5 * bend[0] - 0.5 * bend[1], 1.5 * bend[-1] - 0.5 * bend[-2]]
        return 1.0 / max(bend.max(), *ends)

    settle(0.0, 0.0)
    radii = np.full(len(ANGLES), np.nan)
    radii[REST] = tightest()
    began, count, states = time.perf_counter(), 0, {REST: state(rod)}
    for index, before in outward():
        if poses is not None and index not in poses:
            continue
        restore(rod, states[before])
        settle(ANGLES[before], ANGLES[index])
        radii[index] = tightest()
        states[index] = state(rod)
        count += 1
    return (time.perf_counter() - began) / count, radii


def state(rod):
    return [a.copy() for a in (rod.position_collection, rod.director_collection)]


def restore(rod, kept):
    rod.position_collection[:], rod.director_collection[:] = kept
    rod.velocity_collection[:] = 0.0
    rod.omega_collection[:] = 0.0

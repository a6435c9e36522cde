"""Dynamic relaxation, as both engines do it: the end is put where it belongs, and the chain is damped until it rests.

Each pose starts from its neighbour's shape (`order` 0), or along the line or the parabola through the two or three
before it (`order` 1, 2). It counts as at rest when nothing moves faster than `still`, which is set as high as the error
of that row allows: a person without a reference would have to set it lower.
"""
import time

import numpy as np

from problem import ANGLES, REST, sides

#: So many times the slowest motion of a span without slack, 22.4/L² √(EI/m), where damping is the plain one.
CRITICAL = 2.0


def sweep(chain, still, order, every, most=20_000):
    """Seconds and steps a pose, and the tightest radius of each; the chain is at rest in the middle pose."""
    radii = np.full(len(ANGLES), np.nan)
    radii[REST] = chain.radius()
    first, steps = chain.state(), 0
    began = time.process_time()
    for side in sides():
        before = [first]
        for index in side:
            chain.lead(index)
            chain.put(ahead(before[-1 - order:]))
            taken = 0
            while taken < most:
                chain.step(every)
                taken += every
                if chain.speed() < still:
                    break
            steps += taken
            radii[index] = chain.radius()
            before.append(chain.state())
    poses = len(ANGLES) - 1
    return (time.process_time() - began) / poses, steps / poses, radii


def ahead(states):
    """The state that follows, by the polynomial through those given."""
    if len(states) == 1:
        return states[0]
    if len(states) == 2:
        return [2 * b - a for a, b in zip(*states)]
    return [3 * c - 3 * b + a for a, b, c in zip(*states)]

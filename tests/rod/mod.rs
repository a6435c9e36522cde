//! The rod against closed forms, against itself and against bad input.

mod arcs; // a moment alone bends a circle; a helix between clamps
mod buckling; // Greenhill's twisted rod, Michell and Zajac's twisted ring
mod cantilever; // Bisshopp and Drucker: the reaction at the published tip is the published load
mod catenary; // heavy and limp: sag and tension
mod contact; // pressed over parts; parts out of reach
mod drawn; // drawn through a part
mod elastica; // clamped and pinned by span: radius, height, force; error estimate; order of convergence
pub(crate) mod elliptic; // complete elliptic integrals by the arithmetic-geometric mean
mod invariance; // moved, turned, mirrored, reversed
mod near; // solving again close to a solution
mod reference; // whole route files against an independent solver
mod rig; // small machines with one branch
mod robust; // rigs that hardly make sense: every pose there, nothing NaN
mod sliding; // holes and loose ties: catenary over a pulley, equal pull over the sweep
mod snap; // a strip that flips
mod taut; // shorter than the distance: strain, tension, the bend at the clamp
mod torque; // energy by joint value against what the fixings carry; balance
mod tree; // breakouts: strings at 120°, a branch cut and joined again, balance of a tree
mod twist; // sign, parallel transport by hand

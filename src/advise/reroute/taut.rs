//! The taut string: the shortest way of a class that leaves room for the bundle.

use nalgebra::Point3;

use super::field::{Field, real, whole};
use super::paths::{Way, in_steps, length};

/// Longest step of a taut string \[m\].
const STEP: f64 = 0.008;
/// Beside a corner the string gets points at these distances, one after the other \[m\].
const NEAR_CORNERS: [f64; 5] = [0.012, 0.006, 0.003, 0.0015, 0.0008];
/// Times that all points are drawn tight for each of them.
const ROUNDS: usize = 25;
/// So deep a string may go into what is to be kept, so that its chords can lie round \[m\].
const TOUCH: f64 = 1.2e-4;
/// So often a chord may be halved to lie round a corner.
const HALVINGS: u32 = 5;
/// Less is no motion \[m\].
const STILL: f64 = 2e-6;

fn is_clear(field: &Field<'_>, a: &Point3<f64>, b: &Point3<f64>) -> bool {
    let steps = whole((b - a).norm() / (0.25 * field.grid.cell)) + 1;
    (1..steps).all(|i| {
        let at = a + (b - a) * (real(i) / real(steps));
        field.sure_room(&at) >= 0.0 || field.room(&at).0 >= 0.0
    })
}

/// The way drawn taut in its class, as the shortest with room for the bundle.
pub(super) fn taut(field: &Field<'_>, way: &[Point3<f64>]) -> Way {
    // Corners that see each other are joined at once.
    let mut corners = vec![way[0]];
    let mut here = 0;
    while here + 1 < way.len() {
        let far = (here + 2..way.len())
            .rev()
            .find(|far| is_clear(field, &way[here], &way[*far]));
        here = far.unwrap_or(here + 1);
        corners.push(way[here]);
    }
    let whole_length = length(&corners);
    let most = whole(whole_length / 0.008).clamp(16, 96);
    let mut steps = 16;
    let mut band = in_steps(&corners, steps);
    loop {
        for _ in 0..4 * steps {
            let mut moved: f64 = 0.0;
            for i in 1..steps {
                let mut p = nalgebra::center(&band[i - 1], &band[i + 1]);
                // Over-relaxed where there is room for it, else pushed straight out.
                p += (p - band[i]) * 0.5;
                pushed_out(field, &mut p);
                // A point that found no room stays where it was.
                if field.sure_room(&p) >= 0.0 || field.room(&p).0 >= -1e-4 {
                    moved = moved.max((p - band[i]).norm());
                    band[i] = p;
                }
            }
            if moved < 2e-5 {
                break;
            }
        }
        if steps >= most {
            return in_short_steps(&tightened(field, lifted(field, &band)));
        }
        steps = (2 * steps).min(most);
        band = in_steps(&band, steps);
    }
}

/// Straight out of what is to be kept, as far as a few steps lead.
fn pushed_out(field: &Field<'_>, p: &mut Point3<f64>) {
    for _ in 0..3 {
        if field.sure_room(p) >= 0.0 {
            return;
        }
        let (room, slope) = field.slope(p);
        let steep = slope.norm_squared();
        if room >= 0.0 || steep < 0.1 {
            return;
        }
        *p -= slope * (room / steep);
    }
}

/// The string with its chords lifted off corners that are sharper than its steps.
fn lifted(field: &Field<'_>, band: &[Point3<f64>]) -> Way {
    let mut way = vec![band[0]];
    for ends in band.windows(2) {
        lift(field, (&ends[0], &ends[1]), HALVINGS, &mut way);
    }
    way
}

/// A chord, its middle pushed out and both halves again until there is room along all of it.
fn lift(field: &Field<'_>, (a, b): (&Point3<f64>, &Point3<f64>), halvings: u32, way: &mut Way) {
    let mut middle = nalgebra::center(a, b);
    pushed_out(field, &mut middle);
    if halvings == 0 || sees(field, a, b) || !has_room(field, &middle) {
        way.push(*b);
    } else {
        lift(field, (a, &middle), halvings - 1, way);
        lift(field, (&middle, b), halvings - 1, way);
    }
}

/// The string drawn tight about corners that are sharper than its steps: what sees past a point drops it, the corners that
/// are left get points closer and closer by, and each point goes toward the straight line between its neighbours as far as
/// all stays free. Every move shortens it.
fn tightened(field: &Field<'_>, mut band: Way) -> Way {
    for near in NEAR_CORNERS {
        prune(field, &mut band);
        if band.len() < 3 {
            break;
        }
        let mut finer = vec![band[0]];
        for i in 1..band.len() {
            let run = band[i] - band[i - 1];
            let long = run.norm();
            if long > 2.0 * near {
                if i > 1 {
                    finer.push(band[i - 1] + run * (near / long));
                }
                if i + 1 < band.len() {
                    finer.push(band[i] - run * (near / long));
                }
            }
            finer.push(band[i]);
        }
        band = finer;
        for _ in 0..ROUNDS {
            let mut moved: f64 = 0.0;
            for i in 1..band.len() - 1 {
                let (before, here, after) = (band[i - 1], band[i], band[i + 1]);
                let run = after - before;
                let square = run.norm_squared();
                if square <= 0.0 {
                    continue;
                }
                let share = ((here - before).dot(&run) / square).clamp(0.0, 1.0);
                let goal = before + run * share - here;
                let mut part = 1.0;
                while part * goal.norm() > STILL {
                    let there = here + goal * part;
                    if has_room(field, &there)
                        && sees(field, &before, &there)
                        && sees(field, &there, &after)
                    {
                        moved = moved.max(part * goal.norm());
                        band[i] = there;
                        break;
                    }
                    part *= 0.5;
                }
            }
            if moved < STILL {
                break;
            }
        }
    }
    band
}

fn has_room(field: &Field<'_>, p: &Point3<f64>) -> bool {
    field.sure_room(p) >= 0.0 || field.room(p).0 >= -TOUCH
}

/// Whether there is room all the way between two points, but for a touch.
fn sees(field: &Field<'_>, a: &Point3<f64>, b: &Point3<f64>) -> bool {
    let steps = (whole((b - a).norm() / (0.25 * field.grid.cell)) + 1).max(4);
    (1..steps).all(|i| has_room(field, &(a + (b - a) * (real(i) / real(steps)))))
}

/// Drops points whose neighbours see each other.
fn prune(field: &Field<'_>, band: &mut Way) {
    let mut kept = vec![band[0]];
    for i in 1..band.len() - 1 {
        let last = kept[kept.len() - 1];
        if !sees(field, &last, &band[i + 1]) {
            kept.push(band[i]);
        }
    }
    kept.push(band[band.len() - 1]);
    *band = kept;
}

/// The same way with points no farther apart than a step.
fn in_short_steps(way: &[Point3<f64>]) -> Way {
    let mut fine = vec![way[0]];
    for pair in way.windows(2) {
        let steps = whole((pair[1] - pair[0]).norm() / STEP) + 1;
        fine.extend((1..=steps).map(|i| pair[0] + (pair[1] - pair[0]) * (real(i) / real(steps))));
    }
    fine
}

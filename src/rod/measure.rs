//! From a solved strand to what a person asks: curvature, tension, strain, twist, what the fixings carry.
//!
//! Curvature is read from the moments, not from the second derivative of the pieces: the force and moment at an
//! element's end, taken as the derivative of its energy, are accurate to fourth order in the element's length
//! (at a clamp too), and between the nodes the moment follows from equilibrium, M′ = n × r′.

use nalgebra::{Point3, Vector3};

use super::contact::Contacts;
use super::element::Four;
use super::solution::{Hold, SpanState, Station};
use super::strand::{State, Strand};
use super::tension;

/// Places inside an element, beside its ends, at which the curvature is worked out to find its maximum.
const INSIDE: [f64; 3] = [0.25, 0.5, 0.75];

/// What one strand contributes to a [`super::Shape`].
#[derive(Debug, Clone)]
pub(super) struct Measured {
    pub(super) stations: Vec<Station>,
    /// One a span.
    pub(super) spans: Vec<SpanState>,
    pub(super) holds: Vec<Hold>,
    /// How deep the branch sinks into a part at most \[m\].
    pub(super) depth: f64,
    /// For each element, by how much the curvature of the piece itself misses that of the moments at its ends
    /// \[1/m\]: second order in the element's length where the latter is fourth.
    pub(super) misses: Vec<f64>,
}

/// Force and moment inside the strand at both ends of an element: what the piece after acts with on the piece
/// before.
struct Ends {
    force: [Vector3<f64>; 2],
    moment: [Vector3<f64>; 2],
}

/// Works everything out.
pub(super) fn measure(strand: &Strand, state: &State, contacts: Option<&Contacts<'_>>) -> Measured {
    let mut measured = Measured {
        stations: Vec::with_capacity(2 * strand.elements() + strand.fixings.len()),
        spans: Vec::new(),
        holds: Vec::new(),
        depth: 0.0,
        misses: Vec::with_capacity(strand.elements()),
    };
    let mut arriving: Option<Ends> = None;
    let length = strand.at[strand.at.len() - 1] - strand.at[0];
    let twist = state.angle / length;
    for span in 0..strand.fixings.len() - 1 {
        let (first, last) = (strand.fixings[span], strand.fixings[span + 1]);
        let slack = strand.at[last]
            - strand.at[first]
            - (state.nodes[last].r - state.nodes[first].r).norm();
        let mut span_state = SpanState {
            curvature: 0.0,
            curvature_at: strand.at[first],
            length: strand.at[last] - strand.at[first],
            slack,
            strain: 0.0,
            tension: f64::NEG_INFINITY,
            pulls: (!state.slid.is_empty()).then(|| strand.pulls(state, contacts, span)),
            twist: twist * (strand.at[last] - strand.at[first]),
        };
        let mut before = None;
        for j in first..last {
            let element = strand.element(state, j);
            let mut force = element.force(&strand.material);
            let mut pressure = [0.0; 4];
            if let Some(contacts) = contacts.filter(|c| c.touches(j)) {
                let mut most = 0.0_f64;
                for push in contacts.pushes(j, strand.at[j], &element) {
                    push.add_force(&mut force);
                    let (place, presses) = push.pressure(element.h);
                    pressure[place] = presses;
                    most = most.max(presses);
                }
                measured.depth = measured.depth.max(contacts.depth(most));
            }
            let ends = ends(&force, &element);
            if j == first {
                measured.holds.push(hold(arriving.as_ref(), Some(&ends)));
            }
            let contact = contact_at_stations(pressure, element.h, before);
            before = Some((pressure[3], element.h));
            let stations = stations(strand, &element, j, &ends, contact);
            measured.misses.push(miss(&element, &stations));
            let strains = element
                .lambda
                .map(|lambda| tension::stretch_of(lambda, strand.material.stretch) - 1.0);
            span_state.strain = strains.iter().fold(span_state.strain, |a, b| a.max(*b));
            let (curvature, at) = peak(&stations);
            if curvature > span_state.curvature * (1.0 + 1e-12) {
                span_state.curvature = curvature;
                span_state.curvature_at = at;
            }
            span_state.tension = stations
                .iter()
                .fold(span_state.tension, |a, s| a.max(s.tension));
            let keep = if j + 1 == last { 5 } else { 4 };
            for i in (0..keep).step_by(2) {
                measured.stations.push(stations[i]);
            }
            arriving = Some(ends);
        }
        measured.spans.push(span_state);
    }
    measured.holds.push(hold(arriving.as_ref(), None));
    measured
}

/// What the first and the last fixing do to the strand.
pub(super) fn end_holds(
    strand: &Strand,
    state: &State,
    contacts: Option<&Contacts<'_>>,
) -> [Hold; 2] {
    let at = |j: usize| {
        let element = strand.element(state, j);
        let mut force = element.force(&strand.material);
        if let Some(contacts) = contacts.filter(|c| c.touches(j)) {
            for push in contacts.pushes(j, strand.at[j], &element) {
                push.add_force(&mut force);
            }
        }
        ends(&force, &element)
    };
    let (first, last) = (at(0), at(strand.elements() - 1));
    [hold(None, Some(&first)), hold(Some(&last), None)]
}

/// What a fixing does to the branch, from what arrives on its one side and leaves on the other.
fn hold(before: Option<&Ends>, after: Option<&Ends>) -> Hold {
    let mut hold = Hold {
        force: Vector3::zeros(),
        moment: Vector3::zeros(),
    };
    if let Some(before) = before {
        hold.force += before.force[1];
        hold.moment += before.moment[1];
    }
    if let Some(after) = after {
        hold.force -= after.force[0];
        hold.moment -= after.moment[0];
    }
    hold
}

fn ends(force: &Four, element: &super::element::Element) -> Ends {
    let moment = |t: &Vector3<f64>, by: Vector3<f64>| {
        // The derivative by the slope holds the part of the twist that is counted from the pole; across t what
        // is left is the bending moment over |t|.
        let n = t.norm();
        let apart = n * (n + element.pole.dot(t));
        // Only where no shape was found does a slope run against the pole, or is it of no length.
        let of = |what: f64| {
            if what > 0.0 {
                element.moment / what
            } else {
                0.0
            }
        };
        t.cross(&(by + element.pole.cross(t) * of(apart))) + t * of(n)
    };
    Ends {
        force: [-force[0], force[2]],
        moment: [
            moment(&element.q[1], -force[1]),
            moment(&element.q[3], force[3]),
        ],
    }
}

fn stations(
    strand: &Strand,
    element: &super::element::Element,
    j: usize,
    ends: &Ends,
    contact: [f64; 5],
) -> [Station; 5] {
    let (h, modes) = (element.h, element.modes());
    let (a, b) = (element.q[0], element.q[2]);
    let one_bend = 1.0 / strand.material.bend;
    // From position and slope, force and moment, and the multiplier at a place.
    let at = |xi: f64,
              (r, slope): (Vector3<f64>, Vector3<f64>),
              (n, moment): (Vector3<f64>, Vector3<f64>),
              lambda: f64,
              contact: f64| {
        let shrink = tension::shrink_of(lambda, strand.material.stretch);
        let norm = slope.norm();
        let tangent = slope * if norm > 0.0 { 1.0 / norm } else { 0.0 };
        // The part along the branch is the twisting moment, the rest bends.
        let bending = (moment.norm_squared() - element.moment * element.moment)
            .max(0.0)
            .sqrt();
        Station {
            at: strand.at[j] + xi * h,
            position: Point3::from(r),
            tangent,
            curvature: bending * shrink * one_bend,
            tension: n.dot(&tangent),
            contact,
        }
    };
    let place = |xi: f64, contact: f64| {
        let r = super::element::combine(&super::contact::shape(h, xi), &element.q);
        let (x, y) = (xi, 1.0 - xi);
        let slope = modes.chord * (6.0 * x * y)
            + element.q[1] * (y * (1.0 - 3.0 * x))
            + element.q[3] * (x * (3.0 * x - 2.0));
        let n = ends.force[0] * (1.0 - xi) + ends.force[1] * xi;
        // From each end by equilibrium, blended so that both ends come out exactly.
        let w = strand.material.weight * (0.5 * h);
        let from_start = ends.moment[0] + (ends.force[0] - w * xi).cross(&(r - a));
        let from_end = ends.moment[1] - (ends.force[1] + w * (1.0 - xi)).cross(&(b - r));
        let moment = from_start * (1.0 - xi) + from_end * xi;
        // Between the places where the strain is collocated |r′| swings a little; the multipliers do not.
        let lambda = element.lambda[0] * (1.0 - xi) * (1.0 - 2.0 * xi)
            + element.lambda[1] * 4.0 * xi * (1.0 - xi)
            + element.lambda[2] * xi * (2.0 * xi - 1.0);
        at(xi, (r, slope), (n, moment), lambda, contact)
    };
    // At the ends all of it is known: `place` would give the same.
    let end = |xi: f64, i: usize, contact: f64| {
        let (r, slope) = (element.q[2 * i], element.q[2 * i + 1]);
        let (n, moment) = (ends.force[i], ends.moment[i]);
        at(xi, (r, slope), (n, moment), element.lambda[2 * i], contact)
    };
    [
        end(0.0, 0, contact[0]),
        place(INSIDE[0], contact[1]),
        place(INSIDE[1], contact[2]),
        place(INSIDE[2], contact[3]),
        end(1.0, 1, contact[4]),
    ]
}

/// Contact force per length \[N/m\] at the start of an element, the places inside and its end, from that at the
/// [`super::contact::PLACES`], of which each stands for a quarter of the element. `before` is the last of the element
/// before, and its length. A node has a quarter of either element and the middle two, so that stations, each with what
/// lies halfway to its neighbours, carry what the places carry, from whichever end the branch is told.
fn contact_at_stations(
    [first, second, third, last]: [f64; 4],
    h: f64,
    before: Option<(f64, f64)>,
) -> [f64; 5] {
    let start = before.map_or(first, |(last, h_before)| {
        (last * h_before + first * h) / (h_before + h)
    });
    let halfway = |a: f64, b: f64| 0.5 * (a + b);
    [
        start,
        halfway(first, second),
        halfway(second, third),
        halfway(third, last),
        last,
    ]
}

/// By how much the curvature of the piece itself misses that of the moments at its ends \[1/m\].
fn miss(element: &super::element::Element, stations: &[Station; 5]) -> f64 {
    let (modes, one) = (element.modes(), 1.0 / element.h);
    let own = |u: &Vector3<f64>, bow: f64| {
        let w = (modes.swing + modes.bow * bow) * one;
        u.cross(&w).norm() / u.norm().max(1e-3).powi(3)
    };
    let start = (own(&element.q[1], 6.0) - stations[0].curvature).abs();
    start.max((own(&element.q[3], -6.0) - stations[4].curvature).abs())
}

/// Greatest curvature of an element and where, by the parabola through the greatest of its stations and its
/// neighbours.
fn peak(stations: &[Station; 5]) -> (f64, f64) {
    let mut best = 0;
    for (i, s) in stations.iter().enumerate() {
        if s.curvature > stations[best].curvature {
            best = i;
        }
    }
    let top = &stations[best];
    let middle = best.clamp(1, 3);
    let [before, here, after] = [middle - 1, middle, middle + 1].map(|k| stations[k].curvature);
    let bend = before + after - 2.0 * here;
    if bend >= 0.0 {
        return (top.curvature, top.at);
    }
    let shift = 0.5 * (before - after) / bend;
    let value = here - 0.125 * (before - after).powi(2) / bend;
    if shift.abs() > 1.0 || value < top.curvature {
        return (top.curvature, top.at);
    }
    (
        value,
        stations[middle].at + shift * (stations[1].at - stations[0].at),
    )
}

#[cfg(test)]
mod tests {
    use nalgebra::UnitVector3;

    use super::super::strand::tests::clamped;
    use super::*;

    /// Where no shape was found a slope may be of no length, or run against the pole that the twist is counted from: what is
    /// measured there is a number all the same.
    #[test]
    fn no_slope_makes_what_is_no_number() {
        for (slope, moment) in [0.0, 1.0, -1.0]
            .into_iter()
            .flat_map(|s| [(s, 0.0), (s, 2.0)])
        {
            let (strand, mut state) = clamped(0.1, 3);
            state.pole = UnitVector3::new_normalize(Vector3::new(0.0, 0.6, 0.8));
            (state.nodes[0].t, state.nodes[3].t) = (state.pole.into_inner() * slope, Vector3::y());
            state.moment = moment;
            let measured = measure(&strand, &state, None);
            assert_eq!(measured.holds.len(), 2);
            for hold in &measured.holds {
                let all = hold.force.iter().chain(hold.moment.iter());
                assert!(
                    all.clone().all(|x| x.is_finite()),
                    "{slope} {moment}: {hold:?}"
                );
            }
            let bends = measured
                .stations
                .iter()
                .map(|s| s.curvature + s.tension + s.tangent.sum());
            assert!(
                bends
                    .chain(measured.misses.iter().copied())
                    .all(f64::is_finite)
            );
        }
    }
}

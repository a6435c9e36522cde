//! What may be done to each fixing near a broken limit, one at a time.

use nalgebra::{Point3, Unit, UnitVector3};

use crate::check::{Finding, Verdict};
use crate::harness::{Fixing, FixingKind, LengthRule};
use crate::quantity::Kind;
use crate::route::{Added, HeldAs, Route};

use super::moves::{Deed, Touch};
use super::places::{Room, tube_under};
use super::problem::{Problem, place_of};

/// A wide strap pulled by hand: width \[m\] and tension \[N\]. From memory, no source: common practice.
const WIDE_STRAP: (f64, f64) = (4.8e-3, 20.0);
/// Width of a cushioned clamp \[m\].
const CLAMP: f64 = 12e-3;
/// How far from where it is a fixing is put on another tube or point \[m\].
const ASIDE: f64 = 0.085;
/// Other tubes and points that are looked at for each fixing.
const SEATS: usize = 10;
/// Length that a span gets beyond what the straight ways want, where it may be longer \[m\].
const MORE: [f64; 4] = [1e-3, 4e-3, 8e-3, 16e-3];
/// Shares of the farthest that a fixing is shifted along what it sits on.
const SHARES: [f64; 8] = [-0.25, 0.25, -0.5, 0.5, -0.75, 0.75, -1.0, 1.0];

impl Problem<'_> {
    /// Fixings whose strap squeezes too hard, each with what it may become instead.
    pub(super) fn exchanges(&self) -> Vec<(String, Vec<HeldAs>)> {
        let mut all = Vec::new();
        for entry in self.own.route.branches.iter().flat_map(|b| &b.lay) {
            let Fixing {
                name, kind, width, ..
            } = &entry.fixing;
            let FixingKind::Tie { pull, .. } = kind else {
                continue;
            };
            let mut squeezed = self.own.findings.findings.iter().filter(|f| {
                f.check == "tie pinch"
                    && f.kind != Kind::Length
                    && f.verdict == Verdict::Over
                    && f.subject.starts_with(name.as_str())
            });
            let Some(squeezed) = squeezed.next() else {
                continue;
            };
            let mut ways = vec![
                HeldAs {
                    cushioned: Some(true),
                    width: Some(CLAMP.max(width.unwrap_or(0.0))),
                    ..HeldAs::default()
                },
                HeldAs {
                    width: Some(WIDE_STRAP.0.max(width.unwrap_or(0.0))),
                    pull: Some(WIDE_STRAP.1),
                    ..HeldAs::default()
                },
            ];
            if let Some(pull) = pull {
                // Down to what the limit bears with room to spare, in whole newtons.
                let less = pull * squeezed.limit / squeezed.value.max(squeezed.limit) * 0.85;
                if less >= 5.0 {
                    ways.push(HeldAs {
                        pull: Some(less.floor()),
                        ..HeldAs::default()
                    });
                }
            }
            all.push((name.clone(), ways));
        }
        all
    }

    /// What may be done to each fixing near a broken limit, one at a time.
    pub(super) fn singles(&self, room: &Room<'_>) -> Vec<Touch> {
        let route = &self.own.route;
        let mut all = Vec::new();
        for (b, branch) in route.branches.iter().enumerate() {
            let spans = &self.own.solution.branches[b].spans;
            let findings = self.own.findings.findings.iter();
            let broken: Vec<&Finding> = findings
                .filter(|f| f.branch.0 == b && f.verdict == Verdict::Over)
                .collect();
            let at_span = |finding: &Finding| {
                let span = spans.iter().position(|s| finding.at <= s.end() + 1e-9);
                span.unwrap_or(spans.len().saturating_sub(1))
            };
            for (lay, entry) in branch.lay.iter().enumerate() {
                let near = broken.iter().any(|finding| {
                    let span = at_span(finding);
                    (span.saturating_sub(1)..=span + 2).contains(&lay)
                });
                let inner = lay > 0 && lay + 1 < branch.lay.len();
                let kind = entry.fixing.kind;
                let movable = matches!(kind, FixingKind::Tie { .. } | FixingKind::Clamp);
                if near && movable && inner {
                    self.around(room, b, lay, &mut all);
                }
            }
            let mut crowded: Vec<(usize, f64)> = broken
                .iter()
                .filter(|f| !matches!(f.check, "tie pinch" | "elongation" | "steering drag"))
                .map(|f| (at_span(f), f.at))
                .filter(|(span, _)| !spans[*span].moving)
                .collect();
            crowded.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
            crowded.dedup_by_key(|(span, _)| *span);
            for (span, at) in crowded {
                self.more(room, (b, span, at), &mut all);
            }
            let mut spans: Vec<usize> = broken.iter().map(|f| at_span(f)).collect();
            spans.sort_unstable();
            spans.dedup();
            self.longer_spans(b, &spans, &mut all);
        }
        all
    }

    /// More length in spans that break a limit, where that is allowed.
    fn longer_spans(&self, b: usize, spans: &[usize], all: &mut Vec<Touch>) {
        let route = &self.own.route;
        let wanting = self.lengths().wanting_in(route, b);
        for &span in spans {
            let least = wanting.get(span).map_or(0.0, |wanting| wanting.max(0.0));
            let to = &route.branches[b].lay[span + 1].fixing.name;
            for more in MORE {
                let longer = ((least + more) * 1e3).ceil() * 1e-3;
                if longer <= self.longer + 1e-9 {
                    all.push(Touch {
                        longer,
                        ..Touch::new(to, Deed::Stay)
                    });
                }
            }
        }
    }

    /// What may be done to a fixing between two others.
    fn around(&self, room: &Room<'_>, b: usize, lay: usize, all: &mut Vec<Touch>) {
        let route = &self.own.route;
        let branch = &route.branches[b];
        let fixing = &branch.lay[lay].fixing;
        let at = route.places[fixing.place].at;
        let radius = 0.5 * branch.diameter;
        let Some(own) = fixing.facing.or_else(|| self.lies(b, lay)) else {
            return;
        };
        let along = match tube_under(route, fixing.on, &at, radius) {
            // Toward the branch's end, as its own direction.
            Some((_, along)) if along.dot(&own) < 0.0 => -along,
            Some((_, along)) => along,
            None => own,
        };
        let holds = fixing.facing.is_some();
        let mut put = |by, along| {
            let deed = Deed::Shift {
                by,
                through: 0.0,
                along,
            };
            let touch = Touch::new(&fixing.name, deed);
            if holds {
                all.push(Touch {
                    settles: true,
                    ..touch.clone()
                });
            }
            all.push(touch);
        };
        put(nalgebra::Vector3::zeros(), along);
        for share in SHARES {
            put(along.into_inner() * (share * self.options.farthest), along);
        }
        for (seat, run) in room.seats(fixing.on, &at, (radius, ASIDE, SEATS)) {
            put(seat - at, run);
        }
        if holds {
            all.push(Touch {
                settles: true,
                ..Touch::new(&fixing.name, Deed::Stay)
            });
            if matches!(fixing.kind, FixingKind::Tie { .. }) {
                all.push(Touch {
                    facing: Some(None),
                    ..Touch::new(&fixing.name, Deed::Stay)
                });
            }
        }
        if matches!(fixing.kind, FixingKind::Tie { loose: false, .. }) {
            all.push(Touch {
                exchange: Some(HeldAs {
                    loose: Some(true),
                    ..HeldAs::default()
                }),
                ..Touch::new(&fixing.name, Deed::Stay)
            });
        }
        all.push(Touch::new(&fixing.name, Deed::Remove));
    }

    /// Clamps that may be added in a span: on tubes near the place where a limit is broken, or near its middle.
    fn more(&self, room: &Room<'_>, (b, span, at): (usize, usize, f64), all: &mut Vec<Touch>) {
        let route = &self.own.route;
        let branch = &route.branches[b];
        let solved = &self.own.solution.branches[b];
        let Some(shape) = solved.shapes.get(self.own.solution.sweep.rest) else {
            return;
        };
        let (own, whole) = (&solved.spans[span], self.own.solution.sweep.rest);
        let stance = &self.own.solution.stances[whole];
        let on = branch.lay[span].fixing.on;
        let home = stance.bodies[on.0].inverse();
        let mut name = 1;
        while !place_is_free(route, &format!("A{name}")) {
            name += 1;
        }
        let at = at.clamp(own.start + 0.25 * own.length, own.end() - 0.25 * own.length);
        let here: Point3<f64> = home * shape.curve.position(at);
        let radius = 0.5 * branch.diameter;
        for (seat, _) in room.seats(on, &here, (radius, ASIDE, SEATS)) {
            all.push(Touch {
                settles: true,
                ..Touch::new(
                    &format!("A{name}"),
                    Deed::Add(Box::new(Added {
                        branch: branch.name.clone(),
                        after: branch.lay[span].fixing.name.clone(),
                        name: format!("A{name}"),
                        kind: FixingKind::Clamp,
                        on: route.machine.bodies[on.0].name.clone(),
                        at: seat,
                        facing: None,
                        width: Some(CLAMP),
                        length: Some(LengthRule::Measured(at - own.start)),
                    })),
                )
            });
        }
    }

    /// The direction in which the branch lies at a fixing, at rest, as its body has it with every joint at zero.
    fn lies(&self, b: usize, lay: usize) -> Option<UnitVector3<f64>> {
        let rest = self.own.solution.sweep.rest;
        let solved = &self.own.solution.branches[b];
        let at = match solved.spans.get(lay) {
            Some(span) => span.start,
            None => solved.spans.last()?.end(),
        };
        let on = self.own.route.branches[b].lay[lay].fixing.on;
        let turned = self.own.solution.stances[rest].bodies[on.0]
            .rotation
            .inverse()
            * solved.shapes.get(rest)?.curve.tangent(at);
        Unit::try_new(turned, 0.0)
    }
}

fn place_is_free(route: &Route, name: &str) -> bool {
    place_of(route, name).is_none()
}

//! The section of a bundle: where each wire lies in it, and what follows: diameter, copper, mass, and its stiffness
//! between wires that slip freely and wires that are bonded.
//!
//! - Slipping: Σ E I of every strand and every insulation about its own axis.
//! - Bonded: every conductor solid, and E A y² of each wire's distance from the axis added (parallel axes), the mean of
//!   the two principal directions, since a bundle turns as it runs. For equal strands packed by six about one this is
//!   55/7 of the slipping one for seven, 403/19 for nineteen.
//! - Wires laid with a twist run at the angle β to the bundle, tan β = 2πρ/lay: copper and mass grow with 1/cos β, the
//!   stretching stiffness falls with cos³ β (Costello, *Theory of Wire Rope*, 2nd ed., 1997, first order; from memory).

use super::packing::{Packing, pack};
use super::stiffness::{
    COPPER, COPPER_DENSITY, COPPER_POISSON, INSULATION_DENSITY, INSULATION_POISSON, bore,
    insulation_modulus, second_moment,
};
use super::{Cover, Wire};

/// Bending, twisting and stretching stiffness of a section.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Rigidity {
    /// EI \[N m²\].
    pub bend: f64,
    /// GJ \[N m²\].
    pub twist: f64,
    /// EA \[N\].
    pub stretch: f64,
}

/// A wire in the section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlacedWire {
    /// Its centre, from the bundle's axis \[m\].
    pub at: [f64; 2],
    /// Outside radius \[m\].
    pub radius: f64,
    /// Radius about its strands \[m\].
    pub conductor: f64,
}

impl PlacedWire {
    /// Distance of its centre from the bundle's axis \[m\].
    pub fn out(&self) -> f64 {
        self.at[0].hypot(self.at[1])
    }
}

/// The section of a bundle.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// Its wires, in the order in which they were given.
    pub wires: Vec<PlacedWire>,
    /// Diameter about the wires, inside the cover \[m\].
    pub inside: f64,
    /// Diameter over the cover \[m\].
    pub outside: f64,
    /// Copper area across the bundle \[m²\].
    pub copper: f64,
    /// Mass per length \[kg/m\].
    pub mass: f64,
    /// Stiffness with all strands and wires slipping freely.
    pub slipping: Rigidity,
    /// Stiffness with all of them bonded.
    pub bonded: Rigidity,
}

impl Section {
    /// The section of `wires` lying as close as they can, touching, in a cover; `lay` is the length in which the bundle
    /// turns once about itself \[m\], `None` where the wires run straight.
    pub fn of(wires: &[&Wire], cover: Option<&Cover>, lay: Option<f64>) -> Self {
        // Which of wires that are as thick lies where hangs on what they are, not on the order in which they are told.
        let mut order: Vec<usize> = (0..wires.len()).collect();
        order.sort_by(|&a, &b| {
            let (a, b) = (wires[a], wires[b]);
            let current = |wire: &Wire| wire.current.unwrap_or(0.0);
            b.area
                .total_cmp(&a.area)
                .then(current(b).total_cmp(&current(a)))
                .then((a.strands, a.class, &a.name).cmp(&(b.strands, b.class, &b.name)))
        });
        let radii: Vec<f64> = order.iter().map(|&i| 0.5 * wires[i].outside).collect();
        Self::laid(wires, &pack(&radii).put_back(&order), cover, lay)
    }

    /// The same with each wire where `packing` has it.
    pub fn laid(
        wires: &[&Wire],
        packing: &Packing,
        cover: Option<&Cover>,
        lay: Option<f64>,
    ) -> Self {
        let placed = wires.iter().zip(&packing.centres).map(|(wire, &at)| {
            let conductor = 0.5 * bore(wire);
            PlacedWire {
                at,
                radius: 0.5 * wire.outside,
                conductor,
            }
        });
        let inside = 2.0 * packing.radius;
        let mut section = Self {
            wires: placed.collect(),
            inside,
            outside: inside + cover.map_or(0.0, |cover| 2.0 * cover.wall),
            copper: 0.0,
            mass: 0.0,
            slipping: Rigidity::default(),
            bonded: Rigidity::default(),
        };
        section.sum(wires, lay);
        if cover.is_some() {
            let ring = std::f64::consts::FRAC_PI_4 * (section.outside.powi(2) - inside.powi(2));
            section.mass += INSULATION_DENSITY * ring;
        }
        section
    }

    /// By how much each wire is longer than the bundle, where it is twisted with the length of lay `lay` \[m\].
    pub fn longer(&self, lay: Option<f64>) -> Vec<f64> {
        self.wires
            .iter()
            .map(|placed| longer(placed, lay))
            .collect()
    }

    fn sum(&mut self, wires: &[&Wire], lay: Option<f64>) {
        let axis = self.stiff_axis(wires);
        for (wire, placed) in wires.iter().zip(&self.wires) {
            let modulus = insulation_modulus(wire.class);
            let (over, bore) = (2.0 * placed.radius, 2.0 * placed.conductor);
            let sleeve = second_moment(over) - second_moment(bore);
            let ring = std::f64::consts::FRAC_PI_4 * (over * over - bore * bore);
            let strands = f64::from(wire.strands.max(1));
            let free = wire.area * wire.area / (4.0 * std::f64::consts::PI * strands);
            // A bonded conductor: its strands spread over its outline, I = A R²/4.
            let solid = wire.area * placed.conductor.powi(2) / 4.0;
            let (dx, dy) = (placed.at[0] - axis[0], placed.at[1] - axis[1]);
            let off = dx * dx + dy * dy;
            let along = 1.0 / longer(placed, lay);
            let stretch = COPPER * wire.area + modulus * ring;
            let shear = COPPER / (2.0 * (1.0 + COPPER_POISSON)) * wire.area
                + modulus / (2.0 * (1.0 + INSULATION_POISSON)) * ring;
            self.copper += wire.area / along;
            self.mass += (COPPER_DENSITY * wire.area + INSULATION_DENSITY * ring) / along;
            let own = |copper: f64| {
                let (copper, sleeve) = (COPPER * copper, modulus * sleeve);
                Rigidity {
                    bend: copper + sleeve,
                    twist: copper / (1.0 + COPPER_POISSON) + sleeve / (1.0 + INSULATION_POISSON),
                    stretch: stretch * along.powi(3),
                }
            };
            let (slipping, bonded) = (own(free), own(solid.max(free)));
            self.slipping = self.slipping.and(slipping);
            self.bonded = self.bonded.and(Rigidity {
                bend: bonded.bend + 0.5 * stretch * off,
                twist: bonded.twist + shear * off,
                stretch: bonded.stretch,
            });
        }
    }

    /// The axis about which the bonded section bends: its centroid weighted by E A.
    fn stiff_axis(&self, wires: &[&Wire]) -> [f64; 2] {
        let (mut moment, mut sum) = ([0.0, 0.0], 0.0);
        for (wire, placed) in wires.iter().zip(&self.wires) {
            let weight = COPPER * wire.area;
            moment = [
                moment[0] + weight * placed.at[0],
                moment[1] + weight * placed.at[1],
            ];
            sum += weight;
        }
        if sum > 0.0 {
            moment.map(|m| m / sum)
        } else {
            [0.0, 0.0]
        }
    }
}

impl Rigidity {
    fn and(self, other: Self) -> Self {
        Self {
            bend: self.bend + other.bend,
            twist: self.twist + other.twist,
            stretch: self.stretch + other.stretch,
        }
    }
}

/// By how much a wire that is twisted with the others is longer than the bundle.
fn longer(placed: &PlacedWire, lay: Option<f64>) -> f64 {
    lay.map_or(1.0, |lay| {
        let slope = std::f64::consts::TAU * placed.out() / lay;
        (1.0 + slope * slope).sqrt()
    })
}

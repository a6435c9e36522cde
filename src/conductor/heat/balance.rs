//! The balance: what comes in by radiation and current goes out by radiation and air.

use super::ZERO_CELSIUS;
use super::convection::{forced_film, natural_film};

/// Stefan and Boltzmann's constant \[W/(m² K⁴)\] (CODATA 2018).
const STEFAN_BOLTZMANN: f64 = 5.670_374e-8;

/// A hot part as a bundle sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hot {
    /// View factor from the bundle to it.
    pub view: f64,
    /// Its surface temperature \[°C\].
    pub surface: f64,
    /// Its emissivity.
    pub emissivity: f64,
}

/// What a bundle is surrounded by at one place.
#[derive(Debug, Clone, PartialEq)]
pub struct Around {
    /// Outside diameter of the bundle \[m\].
    pub diameter: f64,
    /// Emissivity of its outside.
    pub emissivity: f64,
    /// Temperature of the air at the bundle \[°C\].
    pub air: f64,
    /// Temperature of whatever else the bundle sees \[°C\].
    pub surroundings: f64,
    /// Speed of the air across it \[m/s\]; zero: it stands.
    pub speed: f64,
    /// Heat by current per length \[W/m\].
    pub joule: f64,
    /// The hot parts that it sees.
    pub hot: Vec<Hot>,
    /// Film coefficient \[W/(m² K)\] where it is known; `None`: from the air.
    pub film: Option<f64>,
}

impl Around {
    fn film(&self, surface: f64) -> f64 {
        match self.film {
            Some(known) => known,
            None if self.speed > 0.0 => forced_film(self.diameter, surface, self.air, self.speed),
            None => natural_film(self.diameter, surface, self.air),
        }
    }

    /// Heat that comes in less what goes out at a surface temperature \[°C\], per area \[W/m²\].
    fn gain(&self, surface: f64) -> f64 {
        let fourth = |celsius: f64| (celsius + ZERO_CELSIUS).powi(4);
        let cold = fourth(self.surroundings);
        let seen: f64 = self
            .hot
            .iter()
            // A grey part sends what it does not emit back from the surroundings.
            .map(|hot| hot.view * hot.emissivity * (fourth(hot.surface) - cold))
            .sum();
        let radiated = self.emissivity * STEFAN_BOLTZMANN * (seen + cold - fourth(surface));
        let made = self.joule / (std::f64::consts::PI * self.diameter);
        radiated + made + self.film(surface) * (self.air - surface)
    }
}

/// Steady temperature of the outside \[°C\], the mean round the bundle, to a hundredth of a degree.
pub fn steady(around: &Around) -> f64 {
    let (mut low, mut high) = (around.air.min(around.surroundings) - 1.0, 2000.0);
    while high - low > 0.005 {
        let middle = 0.5 * (low + high);
        if around.gain(middle) > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// Conductivity across a bundle of wires \[W/(m K)\]: plastic with copper in it and air between (from memory, 0.15 to
/// 0.4).
const ACROSS: f64 = 0.2;

/// By how much the middle of a bundle that makes so much heat per length \[W/m\] is warmer than its outside \[K\]: heat
/// made evenly over a round section, q′/(4πk) (Carslaw & Jaeger, *Conduction of Heat in Solids*, 2nd ed., section 7.2;
/// from memory).
pub fn core(joule: f64) -> f64 {
    joule / (4.0 * std::f64::consts::PI * ACROSS)
}

/// Conductivity of copper \[W/(m K)\] (handbooks).
const COPPER: f64 = 390.0;
/// Conductivity of a clamp's cushion \[W/(m K)\] and its thickness \[m\]: rubber, from memory.
const CUSHION: (f64, f64) = (0.25, 2.0e-3);
/// Film and radiation together beside a clamp \[W/(m² K)\]: standing air.
const BESIDE: f64 = 12.0;

/// Temperature of a bundle under a clamp on a hot part \[°C\]: through half of the cushion that goes round it, and away
/// along the copper on both sides as along fins (Incropera et al., section 3.6). Lengths in metres, copper in square
/// metres.
pub fn clamped(part: f64, air: f64, diameter: f64, width: f64, copper: f64) -> f64 {
    let (conductivity, thickness) = CUSHION;
    let into = conductivity * width * 0.5 * std::f64::consts::PI * diameter / thickness;
    let away = 2.0 * (BESIDE * std::f64::consts::PI * diameter * COPPER * copper).sqrt()
        + BESIDE * 0.5 * std::f64::consts::PI * diameter * width;
    (into * part + away * air) / (into + away)
}

/// How many times faster insulation ages at one temperature than at another \[°C\], where it doubles every `halving`
/// kelvin (the halving interval of IEC 60216; 10 K is Montsinger's rule of thumb of 1930).
pub fn ageing(at: f64, than: f64, halving: f64) -> f64 {
    ((at - than) / halving).exp2()
}

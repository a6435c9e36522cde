//! Air about a bundle: standing, blowing, rising from what is hot.

use super::ZERO_CELSIUS;

/// Properties of dry air at sea level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    /// Conductivity \[W/(m K)\].
    pub conductivity: f64,
    /// Kinematic viscosity \[m²/s\].
    pub viscosity: f64,
    /// Prandtl number.
    pub prandtl: f64,
    /// Density \[kg/m³\].
    pub density: f64,
    /// Expansion by temperature \[1/K\].
    pub expansion: f64,
}

/// Specific heat of air \[J/(kg K)\].
const SPECIFIC_HEAT: f64 = 1006.0;
/// Standard gravity \[m/s²\].
const GRAVITY: f64 = 9.806_65;

/// Air at a temperature \[°C\]: Sutherland's law for viscosity and conductivity (White, *Viscous Fluid Flow*, 3rd ed.,
/// table 1-2 and 1-3: constants from memory), ideal gas at 101.325 `kPa`.
pub fn air_at(temperature: f64) -> Air {
    let kelvin = temperature + ZERO_CELSIUS;
    let law = |at_0: f64, constant: f64| {
        at_0 * (kelvin / ZERO_CELSIUS).powf(1.5) * (ZERO_CELSIUS + constant) / (kelvin + constant)
    };
    let viscosity = law(1.716e-5, 110.4);
    let conductivity = law(0.0241, 194.4);
    let density = 101_325.0 / (287.05 * kelvin);
    Air {
        conductivity,
        viscosity: viscosity / density,
        prandtl: viscosity * SPECIFIC_HEAT / conductivity,
        density,
        expansion: 1.0 / kelvin,
    }
}

/// Nusselt number of a level cylinder in standing air (Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975)
/// 1049–1053), for Rayleigh numbers up to 10¹².
pub fn natural_cylinder(rayleigh: f64, prandtl: f64) -> f64 {
    let by_prandtl = (1.0 + (0.559 / prandtl).powf(9.0 / 16.0)).powf(8.0 / 27.0);
    (0.60 + 0.387 * rayleigh.max(0.0).powf(1.0 / 6.0) / by_prandtl).powi(2)
}

/// Nusselt number of a cylinder across which air blows (Churchill & Bernstein, J. Heat Transfer 99 (1977) 300–306; from
/// memory), for Re·Pr above 0.2.
pub fn forced_cylinder(reynolds: f64, prandtl: f64) -> f64 {
    let by_prandtl = (1.0 + (0.4 / prandtl).powf(2.0 / 3.0)).powf(0.25);
    0.3 + 0.62 * reynolds.sqrt() * prandtl.cbrt() / by_prandtl
        * (1.0 + (reynolds / 282_000.0).powf(0.625)).powf(0.8)
}

/// Film coefficient of a cylinder of this diameter \[m\] at one temperature in standing air at another \[°C\], in W/(m²
/// K).
pub fn natural_film(diameter: f64, surface: f64, air: f64) -> f64 {
    let film = air_at(0.5 * (surface + air));
    let rayleigh = GRAVITY * film.expansion * (surface - air).abs() * diameter.powi(3)
        / (film.viscosity * film.viscosity)
        * film.prandtl;
    natural_cylinder(rayleigh, film.prandtl) * film.conductivity / diameter
}

/// Film coefficient of a cylinder of this diameter \[m\] at one temperature in air at another \[°C\] that blows across
/// it at `speed` \[m/s\], in W/(m² K); never less than in standing air.
pub fn forced_film(diameter: f64, surface: f64, air: f64, speed: f64) -> f64 {
    let film = air_at(0.5 * (surface + air));
    let reynolds = speed * diameter / film.viscosity;
    let blown = forced_cylinder(reynolds, film.prandtl) * film.conductivity / diameter;
    blown.max(natural_film(diameter, surface, air))
}

/// By how much the air is warmer \[K\] at `above` and `aside` \[m\] of a long level part of this diameter \[m\] and
/// temperature in air at another \[°C\]: the turbulent plume of a line source (Rouse, Yih & Humphreys, Tellus 4 (1952)
/// 201–210; coefficients from memory: buoyancy 2.6 F^(2/3)/z on the axis, F = g Q/(ρ c T), half as strong at 0.13 z
/// aside), from a virtual source two diameters below, and never warmer than the part.
pub fn plume(above: f64, aside: f64, diameter: f64, part: f64, air: f64) -> f64 {
    if above <= 0.0 || part <= air {
        return 0.0;
    }
    let ambient = air_at(air);
    let shed = natural_film(diameter, part, air) * std::f64::consts::PI * diameter * (part - air);
    let kelvin = air + ZERO_CELSIUS;
    let buoyancy = GRAVITY * shed / (ambient.density * SPECIFIC_HEAT * kelvin);
    let height = above + 2.0 * diameter;
    let axis = 2.6 * buoyancy.powf(2.0 / 3.0) / height * kelvin / GRAVITY;
    let off = aside / (0.13 * height);
    (axis * (-std::f64::consts::LN_2 * off * off).exp()).min(part - air)
}

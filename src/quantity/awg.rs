//! American wire gauge.
//!
//! ASTM B258 (the tables of NBS Handbook 100, 1966, follow it): the solid diameter is 0.127 mm at gauge 36 and
//! grows by a factor of 92 over 39 gauges, so d = 0.127 mm · 92^((36 − n)/39); 0 is n = 0, 00 (2/0) is n = −1.

/// Solid diameter of a gauge \[m\].
pub fn awg_diameter(gauge: f64) -> f64 {
    1.27e-4 * 92_f64.powf((36.0 - gauge) / 39.0)
}

/// Cross-section of a gauge \[m²\].
pub fn awg_area(gauge: f64) -> f64 {
    std::f64::consts::FRAC_PI_4 * awg_diameter(gauge).powi(2)
}

/// Gauge number of a text such as "20", "0", "00" or "2/0".
pub(super) fn gauge(text: &str) -> Option<f64> {
    if let Some(zeros) = text.strip_suffix("/0") {
        let zeros: u8 = zeros.parse().ok()?;
        return (1..=4).contains(&zeros).then(|| 1.0 - f64::from(zeros));
    }
    if text.len() > 1 && text.bytes().all(|b| b == b'0') {
        let zeros = u8::try_from(text.len()).ok()?;
        return (zeros <= 4).then(|| 1.0 - f64::from(zeros));
    }
    let number: u8 = text.parse().ok()?;
    (number <= 40).then(|| f64::from(number))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gauges_have_the_diameters_of_the_standard() {
        // ASTM B258: 36 AWG = 0.0050 in and 4/0 = 0.4600 in exactly; 22 AWG from the formula at high precision.
        for (text, mm, rel) in [
            ("36", 0.127, 1e-12),
            ("4/0", 11.684, 1e-12),
            ("0000", 11.684, 1e-12),
            ("22", 0.643_803, 1e-6),
            ("20", 0.811_821, 1e-6),
        ] {
            let d = gauge(text).map_or(f64::NAN, awg_diameter) * 1e3;
            assert!((d / mm - 1.0).abs() < rel, "{text}: {d} mm, wanted {mm} mm");
        }
        let area = awg_area(22.0) * 1e6;
        assert!((area / 0.325_534 - 1.0).abs() < 2e-6, "{area}");
        // W35: 52.963 mΩ/m at 1/58 Ω mm²/m (100 % IACS, NBS Handbook 100).
        let resistance = 1e3 / 58.0 / area;
        assert!((resistance / 52.963 - 1.0).abs() < 1e-5, "{resistance}");
    }

    #[test]
    fn what_is_no_gauge_is_none() {
        for text in ["", "-3", "41", "5/0", "00000", "1.5", "x"] {
            assert_eq!(gauge(text), None, "{text}");
        }
    }
}

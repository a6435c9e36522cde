//! Complete elliptic integrals by the arithmetic-geometric mean (Abramowitz & Stegun, Handbook of Mathematical
//! Functions, 17.6).

/// K(k) and E(k), k the modulus.
pub(crate) fn complete(k: f64) -> (f64, f64) {
    let (mut a, mut b, mut c) = (1.0_f64, (1.0 - k * k).sqrt(), k);
    let (mut sum, mut power) = (0.5 * c * c, 0.5);
    // What is left out is of the order of c².
    while c.abs() > 1e-12 {
        let next = (0.5 * (a + b), (a * b).sqrt());
        c = 0.5 * (a - b);
        (a, b) = next;
        power *= 2.0;
        sum += power * c * c;
    }
    let first = std::f64::consts::FRAC_PI_2 / a;
    (first, first * (1.0 - sum))
}

/// The modulus at which the distance between the ends over the length, 2E/K − 1, is `ratio`.
pub(crate) fn modulus(ratio: f64) -> f64 {
    let (mut low, mut high) = (1e-9, 1.0 - 1e-12);
    for _ in 0..200 {
        let k = 0.5 * (low + high);
        let (first, second) = complete(k);
        if 2.0 * second / first - 1.0 > ratio {
            low = k;
        } else {
            high = k;
        }
    }
    0.5 * (low + high)
}

#[test]
fn known_values() {
    // Abramowitz & Stegun table 17.1 (from memory): m = k² = 0.5.
    let (first, second) = complete(0.5_f64.sqrt());
    assert!((first - 1.854_074_677_301_372).abs() < 1e-14);
    assert!((second - 1.350_643_881_047_675_5).abs() < 1e-14);
}

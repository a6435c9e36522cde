//! The section of a bundle against closed forms.

use neckloom::harness::{Cover, CoverKind, Packing, Section, Wire};

const COPPER: f64 = 117e9;

fn bare(diameter: f64) -> Wire {
    // One solid strand that fills its outline, without insulation.
    Wire {
        name: "w".to_owned(),
        area: std::f64::consts::FRAC_PI_4 * diameter * diameter,
        strands: 1,
        outside: diameter,
        class: None,
        safety: false,
        current: None,
        marks: neckloom::harness::WireMarks::default(),
    }
}

/// Strands about one, ring by ring, by six: touching, all alike.
fn by_six(diameter: f64, rings: i32) -> Packing {
    let mut centres = Vec::new();
    for a in -rings..=rings {
        for b in -rings..=rings {
            if (a + b).abs() <= rings {
                let (a, b) = (f64::from(a), f64::from(b));
                centres.push([diameter * (a + 0.5 * b), diameter * b * 0.75_f64.sqrt()]);
            }
        }
    }
    let radius = diameter * (0.5 + f64::from(rings));
    Packing { centres, radius }
}

/// W22: the bonded section of 7, 19 and 37 equal strands, laid by six about one, is 55/7, 403/19 and 1525/37 times as
/// stiff as the slipping one (parallel axes, exact).
#[test]
fn strands_by_six_about_one_bonded() {
    let wire = bare(0.3e-3);
    for (rings, count, ratio) in [
        (1, 7, 55.0 / 7.0),
        (2, 19, 403.0 / 19.0),
        (3, 37, 1525.0 / 37.0),
    ] {
        let packing = by_six(0.3e-3, rings);
        let wires = vec![&wire; packing.centres.len()];
        assert_eq!(wires.len(), count);
        let section = Section::laid(&wires, &packing, None, None);
        let free = f64::from(u32::try_from(count).unwrap()) * COPPER * std::f64::consts::PI / 64.0
            * 0.3e-3_f64.powi(4);
        assert!((section.slipping.bend / free - 1.0).abs() < 1e-9);
        let got = section.bonded.bend / section.slipping.bend;
        assert!(
            (got / ratio - 1.0).abs() < 1e-6,
            "{count}: {got}, wanted {ratio}"
        );
    }
}

/// Seven lie by six about one however they are packed; nineteen lie closer in all, though more of them far out.
#[test]
fn packed_strands_bonded() {
    let wire = bare(0.3e-3);
    for (count, ratio, tolerance) in [(7, 55.0 / 7.0, 1e-3), (19, 403.0 / 19.0, 0.06)] {
        let section = Section::of(&vec![&wire; count], None, None);
        let got = section.bonded.bend / section.slipping.bend;
        assert!(
            (got / ratio - 1.0).abs() < tolerance,
            "{count}: {got}, by six {ratio}"
        );
    }
}

#[test]
fn copper_mass_and_stretch_add_up() {
    let wires = [bare(1.0e-3), bare(2.0e-3)];
    let all: Vec<&Wire> = wires.iter().collect();
    let section = Section::of(&all, None, None);
    let area = std::f64::consts::FRAC_PI_4 * 5.0e-6;
    assert!((section.copper / area - 1.0).abs() < 1e-12);
    assert!((section.mass / (8890.0 * area) - 1.0).abs() < 1e-12);
    assert!((section.slipping.stretch / (COPPER * area) - 1.0).abs() < 1e-12);
    assert!((section.inside - 3.0e-3).abs() < 1e-12);
    // Two discs of areas 1 and 4 whose centres are 1.5 mm apart bend about their common centroid: reduced area 4/5 of
    // the smaller.
    let small = std::f64::consts::FRAC_PI_4 * 1e-6;
    let apart = 0.8 * small * 1.5e-3_f64.powi(2);
    let own = std::f64::consts::PI / 64.0 * (1.0e-12 + 16.0e-12);
    let wanted = COPPER * (own + 0.5 * apart);
    assert!((section.bonded.bend / wanted - 1.0).abs() < 1e-9);
}

#[test]
fn a_cover_lies_outside_and_a_lay_costs_copper() {
    let wire = bare(1.0e-3);
    let wires = vec![&wire; 7];
    let cover = Cover {
        kind: CoverKind::Tube,
        wall: 0.5e-3,
        rated: None,
    };
    let section = Section::of(&wires, Some(&cover), None);
    assert!((section.outside - section.inside - 1e-3).abs() < 1e-15);
    let laid = Section::of(&wires, Some(&cover), Some(30e-3));
    // Six of seven wires run about the middle one at 1 mm: each longer by √(1 + (2π/30)²).
    let longer = (1.0 + (std::f64::consts::TAU / 30.0_f64).powi(2)).sqrt();
    let wanted = section.copper * (1.0 + 6.0 * longer) / 7.0;
    assert!(
        (laid.copper / wanted - 1.0).abs() < 1e-3,
        "{} {wanted}",
        laid.copper
    );
    assert!(laid.slipping.stretch < section.slipping.stretch);
}

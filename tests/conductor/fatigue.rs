//! Strain against cycles, and cycles counted.

use neckloom::conductor::{
    Ductility, cycles_ductility, cycles_universal_slopes, damage_of, range_ductility,
    range_universal_slopes, ranges_of,
};

/// W24: IPC-TM-650 2.4.3.2 / ASTM E796 (form from memory), ductility 0.3, strength over modulus 0.00207; values at high
/// precision from the closed form.
#[test]
fn the_ductility_relation() {
    let metal = Ductility {
        strength: 0.00207,
        fatigue: 0.3,
        reduction: 0.6,
    };
    for (cycles, range) in [
        (10.0, 0.106_608_6),
        (1e2, 0.029_357_28),
        (1e3, 0.009_410_771),
        (1e4, 0.003_972_449),
        (1e5, 0.002_268_360),
        (1e6, 0.001_573_309),
    ] {
        let got = range_ductility(&metal, cycles);
        assert!((got / range - 1.0).abs() < 1e-6, "{cycles}: {got}");
        assert!((cycles_ductility(&metal, range) / cycles - 1.0).abs() < 1e-4);
    }
    // W24b.
    for (range, cycles) in [
        (0.02, 208.0),
        (0.01, 873.0),
        (0.005, 4938.0),
        (0.003, 27_721.0),
        (0.002, 201_618.0),
    ] {
        let got = cycles_ductility(&metal, range);
        assert!((got / cycles - 1.0).abs() < 0.01, "{range}: {got}");
    }
}

/// W25: Manson's universal slopes (form from memory), strength over modulus 220/117000, reduction of area 0.6.
#[test]
fn universal_slopes() {
    let metal = Ductility {
        strength: 220.0 / 117_000.0,
        fatigue: 0.3,
        reduction: 0.6,
    };
    for (cycles, range) in [
        (1e3, 0.017_911_83),
        (1e4, 0.005_956_874),
        (1e5, 0.002_602_021),
        (1e6, 0.001_492_374),
    ] {
        let got = range_universal_slopes(&metal, cycles);
        assert!((got / range - 1.0).abs() < 1e-6, "{cycles}: {got}");
    }
    // W25b.
    for (range, cycles) in [(0.01, 3188.0), (0.005, 15_282.0), (0.003, 62_961.0)] {
        let got = cycles_universal_slopes(&metal, range);
        assert!((got / cycles - 1.0).abs() < 0.01, "{range}: {got}");
    }
}

#[test]
fn beyond_the_curves_cycles_stay_within_bounds() {
    let metal = Ductility {
        strength: 0.002,
        fatigue: 0.3,
        reduction: 0.6,
    };
    for cycles in [cycles_ductility, cycles_universal_slopes] {
        assert!((cycles(&metal, 10.0) - 1.0).abs() < 1e-9);
        assert!((cycles(&metal, 0.0) - 1e8).abs() < 1e-3);
    }
}

#[test]
fn one_sweep_out_and_back_is_one_cycle_and_a_wiggle_in_it_two_more() {
    assert_eq!(ranges_of(&[0.0, 1.0, 2.0, 5.0]), vec![5.0]);
    assert_eq!(ranges_of(&[3.0]), Vec::<f64>::new());
    assert_eq!(ranges_of(&[]), Vec::<f64>::new());
    // Up to 4, down to 3, up to 9: the dip is gone through on the way out and on the way back.
    let mut ranges = ranges_of(&[0.0, 4.0, 3.0, 9.0]);
    ranges.sort_by(f64::total_cmp);
    assert_eq!(ranges, vec![1.0, 1.0, 9.0]);
    // Straight ahead is least strained: both stops together make two cycles a sweep.
    let mut ranges = ranges_of(&[6.0, 0.0, 5.0]);
    ranges.sort_by(f64::total_cmp);
    assert_eq!(ranges, vec![5.0, 6.0]);
}

/// The worked example of ASTM E1049 section 5.4.5 counts, in the repeating history −2 1 −3 5 −1 3 −4 4 −2, one cycle
/// each of the ranges 3, 4, 8 and 9 (from memory, high confidence). Here the history is played forward and back, so
/// each stands twice but the largest.
#[test]
fn the_example_of_the_standard() {
    let mut ranges = ranges_of(&[-2.0, 1.0, -3.0, 5.0, -1.0, 3.0, -4.0, 4.0, -2.0]);
    ranges.sort_by(f64::total_cmp);
    let sum: f64 = ranges.iter().sum();
    // Every way up is part of exactly one cycle: the ranges add up to all that was climbed.
    let climbed = 3.0 + 8.0 + 4.0 + 8.0 + 6.0 + 7.0 + 6.0 + 4.0;
    assert!((sum - climbed).abs() < 1e-12, "{ranges:?}");
    assert!((ranges[ranges.len() - 1] - 9.0).abs() < 1e-12);
}

/// Miner: cycles of one range use up one share each; two ranges add.
#[test]
fn damage_adds_up() {
    let cycles = |range: f64| 100.0 / range;
    assert!((damage_of(&[1.0, 2.0, 2.0], cycles) - 0.05).abs() < 1e-15);
}

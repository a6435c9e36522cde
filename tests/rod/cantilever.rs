//! The cantilever under a dead load at its tip: Bisshopp & Drucker, "Large deflection of cantilever beams", Q. Appl.
//! Math. 3 (1945) 272–275; the table computed from their elliptic integrals with thirty digits.

use neckloom::rod::Settings;

use super::rig::{BEND, Rig, refined, relative};

/// P L²/EI, tip across / L, tip along / L, tip angle \[rad\].
const TABLE: [(f64, f64, f64, f64); 10] = [
    (0.25, 0.082_745_92, 0.995_882_18, 0.124_292_44),
    (0.5, 0.162_143_58, 0.984_081_04, 0.244_533_65),
    (1.0, 0.301_720_77, 0.943_566_76, 0.461_351_95),
    (2.0, 0.493_457_48, 0.839_358_28, 0.781_749_83),
    (3.0, 0.603_253_44, 0.745_579_82, 0.986_016_95),
    (4.0, 0.669_964_18, 0.671_058_76, 1.121_239_3),
    (5.0, 0.713_791_52, 0.612_371_64, 1.215_368_1),
    (7.5, 0.776_702_00, 0.510_425_75, 1.355_926_6),
    (10.0, 0.810_609_02, 0.445_004_40, 1.430_285_5),
    (15.0, 0.847_715_67, 0.364_714_22, 1.501_840_2),
];

#[test]
fn the_reaction_at_the_published_tip_is_the_load() {
    let length = 0.3;
    for (settings, tolerance) in [
        (Settings::default(), 1e-4),
        (refined(1e-3), 1e-3),
        // The place of the tip is printed with eight digits.
        (refined(1e-6), 2e-6),
    ] {
        // The settings promise the tightest radius; the reaction is measured to be within three times that.
        for (load, across, along, angle) in TABLE {
            let tip = [along * length, 0.0, -across * length];
            let solution = Rig::still()
                .fix(0, [0.0; 3], Some([1.0, 0.0, 0.0]), 0.0)
                .fix(0, tip, None, length)
                .solved(&settings);
            let shape = &solution.branches[0].shapes[0];
            let force = shape.holds[1].force;
            let want = load * BEND / (length * length);
            let end = shape.curve.tangent(length);
            let moment = shape.holds[0].moment.norm();
            println!(
                "α {load}: force {:.2e} along {:.1e}, angle {:.1e}, moment {:.1e}, {:?}",
                relative(-force.z, want),
                force.x / want,
                relative((-end.z).atan2(end.x), angle),
                relative(moment, want * along * length),
                solution.branches[0].resolution
            );
            // The half digit that the table leaves open in x counts for the more, the less the rod bends (as 1/α²);
            // weak loads hardly bend it, so what counts is EI/L².
            let unit = want.max(BEND / (length * length));
            let rounded = 1e-5 / (load * load) * BEND / (length * length);
            let allowed = 3.0 * tolerance * unit + rounded;
            assert!(
                (-force.z - want).abs() < allowed && force.x.abs() < allowed,
                "α {load}: {force:?} for {want}"
            );
            assert!(force.y.abs() < 1e-9 * want);
            assert!(relative((-end.z).atan2(end.x), angle).abs() < tolerance);
            // The moment at the clamp is EI over the tightest radius.
            let error = relative(moment, want * along * length).abs();
            let estimate = solution.branches[0].resolution.radius_error;
            assert!(
                error < 2.5 * estimate + 1e-6 + rounded / unit,
                "α {load}: {error:e}, estimate {estimate:e}"
            );
            assert!(relative(moment, want * along * length).abs() < tolerance);
            assert!(shape.holds[1].moment.norm() < 1e-9);
        }
    }
}

use super::rig::*;
use neckloom::geometry::Shape;
use neckloom::machine::Joint;
use nalgebra::*;
#[test]
fn probe_arch_up() {
    for part in [false, true] { for mass in [0.0, 0.001, 0.09, 1.0] { for acc in [f64::INFINITY, 1e-4] {
        let mut rig = Rig::new(Joint::Fixed, mass);
        if part { rig = rig.part(Shape::Ball { centre: Point3::new(0.1, 0.0, 1.0), diameter: 0.1 }); }
        let mut rig = rig.fix(0, [0.0; 3], Some([1.0, 0.0, 0.0]), 0.0);
        rig.fix_via(0, [0.2, 0.0, 0.0], Some([1.0, 0.0, 0.0]), 0.22, &[[0.1, 0.0, 0.05]]);
        let s = rig.solve(&refined(acc));
        let sh = &s.branches[0].shapes[0];
        println!("part {part} mass {mass} acc {acc}: conv {} res {:.1e} mid {:.4?} {:?}", sh.converged, sh.residual, sh.curve.position(0.11).coords.as_slice(), s.branches[0].resolution);
    }}}
}
#[test]
fn probe_odd() {
    for seed in 0..60 {
        let rig = super::robust::odd(seed);
        let t = std::time::Instant::now();
        let s = rig.solve(&even(6));
        let b = &s.branches[0];
        let bad = b.shapes.iter().filter(|s| !s.converged).count();
        if bad > 0 {
            let lay = &rig.route.branches[0].lay;
            let st = &rig.route.branches[0].stiffness;
            print!("seed {seed}: {bad}/{} res {:.1e} {:?} EI {:e} EA {:e} mass {}", b.shapes.len(), b.shapes[0].residual, t.elapsed(), st.bend, st.stretch, st.mass);
            for sp in &b.spans {
                let (a, c) = (rig.route.places[lay[sp.from].fixing.place].at, rig.route.places[lay[sp.from + 1].fixing.place].at);
                print!(" | L {:.1e} D/L {:.2e} held {} {} wL3/EI {:.1e} EAL2/EI {:.0e}", sp.length, (a - c).norm() / sp.length, lay[sp.from].fixing.facing.is_some(), lay[sp.from + 1].fixing.facing.is_some(), st.mass * 9.8 * sp.length.powi(3) / st.bend, st.stretch*sp.length.powi(2)/st.bend);
            }
            println!();
        }
    }
}
#[test]
fn probe_nan() {
    for seed in [4, 26] {
        let rig = super::robust::odd(seed);
        let s = rig.solve(&even(6));
        let b = &s.branches[0];
        println!("seed {seed} {:?} {:?}", b.shapes[0].curve.knots(), b.shapes[0].spans);
        for (l, p) in rig.route.branches[0].lay.iter().zip(&rig.route.places) { println!("{:?} {:?} {:?}", p.at, l.fixing.facing, l.length); }
    }
}
#[test]
fn probe_onto() {
    for z in [-0.08, -0.065, -0.062, -0.06, -0.058, -0.05] { for slope in [-0.3, 0.0, 0.3] {
        let mut rig = Rig::new(Joint::Fixed, 0.09).part(Shape::Tube { along: vec![Point3::new(0.1, -0.1, z), Point3::new(0.1, 0.1, z)], diameter: 0.03 }).fix(0, [0.0; 3], Some([1.0, 0.0, slope]), 0.0);
        rig.fix_via(0, [0.2, 0.0, 0.0], Some([1.0, 0.0, -slope]), 0.22, if slope < 0.0 { &[] } else { &[[0.1, 0.0, 0.05]] });
        let s = rig.solve(&refined(1e-4));
        let sh = &s.branches[0].shapes[0];
        println!("z {z} slope {slope}: conv {} res {:.1e} mid {:.4?} {:?}", sh.converged, sh.residual, sh.curve.position(0.11).coords.as_slice(), s.branches[0].resolution);
    }}
}
#[test]
fn probe_guess() {
    let rig = super::robust::odd(26);
    let r = &rig.route;
    let (path, knots) = r.smooth_path(&r.branches[0], &r.machine.stance(&r.machine.rest()));
    println!("{:?} {:?} {:?}", path.knots(), knots, path.sample(0.5 * path.end()));
    let st = &r.branches[0].stiffness; println!("{st:?}");
}

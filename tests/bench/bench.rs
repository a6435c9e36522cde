//! Speed, accuracy and memory of the rod, on one core. `cargo bench` prints the tables; nothing is asserted.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::cast_precision_loss,
    missing_docs,
    reason = "a bench prints; counts are small"
)]

use std::time::{Duration, Instant};

use neckloom::machine::Joint;
use neckloom::rod::{Settings, Solution, solve};
use neckloom::route::Route;

#[path = "../rod/rig.rs"]
#[allow(dead_code, reason = "the tests' rigs, of which a bench needs two")]
mod rig;

use rig::Rig;

/// Least number of runs a row is the median of, and the time after which no more are made.
const RUNS: usize = 7;
const ENOUGH: Duration = Duration::from_millis(1500);

fn main() {
    // `cargo test --benches` calls this with arguments of its own: only show that it runs.
    rayon_of_one(|| {
        span_over_the_locks("one span, 41 angles, 12 mm slack, bent in space", 0.232);
        span_over_the_locks("one span, 41 angles, loose", 0.29);
        span_over_the_locks("one span, 41 angles, taut at a lock", 0.205);
        cost_by_elements();
        memory();
    });
}

/// Runs on a pool of one thread, so that times are those of one core.
fn rayon_of_one(job: impl FnOnce() + Send) {
    rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .build()
        .unwrap()
        .install(job);
}

fn settings(elements: usize, accuracy: f64) -> Settings {
    Settings { elements, accuracy }
}

/// Median time of a solve, and its solution.
fn timed(route: &Route, settings: &Settings) -> (Duration, Solution) {
    let solution = solve(route, settings);
    let mut times = Vec::new();
    let began = Instant::now();
    while times.len() < RUNS || (began.elapsed() < ENOUGH && times.len() < 50) {
        let start = Instant::now();
        std::hint::black_box(solve(std::hint::black_box(route), settings));
        times.push(start.elapsed());
    }
    times.sort();
    (times[times.len() / 2], solution)
}

/// Tightest radius of each pose.
fn radii(solution: &Solution) -> Vec<f64> {
    solution.branches[0]
        .shapes
        .iter()
        .map(|shape| 1.0 / shape.spans[0].curvature)
        .collect()
}

fn span_over_the_locks(title: &str, length: f64) {
    println!("\n{title} (cold start included)");
    let rig = Rig::steered(length, 0.09);
    let reference = solve(&rig.route, &settings(768, f64::INFINITY));
    let check = radii(&solve(&rig.route, &settings(384, f64::INFINITY)));
    let want = radii(&reference);
    let off = |got: &[f64]| {
        let each = got.iter().zip(&want).map(|(g, w)| (g / w - 1.0).abs());
        let least = want.iter().copied().fold(f64::INFINITY, f64::min);
        let tightest = got.iter().copied().fold(f64::INFINITY, f64::min);
        (each.fold(0.0, f64::max), (tightest / least - 1.0).abs())
    };
    println!(
        "  reference: 768 elements; 384 differ from it by {:.1e} at most",
        off(&check).0
    );
    println!(
        "  elements  accuracy   µs/pose  steps/pose  M vertex·pose/s  error, any pose  error, tightest  estimate  bad"
    );
    let mut choices: Vec<Settings> = [6, 8, 12, 16, 24, 32, 48, 96]
        .map(|n| settings(n, f64::INFINITY))
        .to_vec();
    choices.extend([1e-3, 1e-5].map(|a| settings(Settings::default().elements, a)));
    choices.push(Settings::default());
    for settings in choices {
        let (time, solution) = timed(&rig.route, &settings);
        let branch = &solution.branches[0];
        let poses = branch.shapes.len() as f64;
        let seconds = time.as_secs_f64();
        let (any, tightest) = off(&radii(&solution));
        let vertices = (branch.resolution.elements + 1) as f64;
        println!(
            "  {:>8}  {:>8.0e}  {:>8.1}  {:>10.2}  {:>15.2}  {:>15.1e}  {:>15.1e}  {:>8.1e}  {:>3}",
            branch.resolution.elements,
            settings.accuracy,
            seconds / poses * 1e6,
            branch.resolution.newton_steps as f64 / poses,
            vertices * poses / seconds / 1e6,
            any,
            tightest,
            branch.resolution.radius_error,
            branch.shapes.iter().filter(|s| !s.converged).count(),
        );
    }
}

/// A long taut strand through eyes a tenth of a metre apart, ten elements a span, one end turned: the time that a Newton
/// step takes by the number of elements. The same solve with the joint locked has the cold start; its time and steps
/// are taken off.
fn cost_by_elements() {
    println!("\ncost of a Newton step by elements (linear where the last column stays level)");
    println!("  elements   µs/step  ns/step/element  steps");
    for spans in [1_u32, 2, 5, 10, 20, 50, 100, 200, 500] {
        let rig = |to: f64| {
            let end = 0.098 * f64::from(spans);
            let joint = Joint::Turns {
                through: nalgebra::Point3::new(end, 0.0, 0.0),
                axis: nalgebra::Vector3::y_axis(),
                from: 0.0,
                to,
            };
            let mut rig = Rig::new(joint, 0.09).fix(0, [0.0; 3], Some([1.0, 0.0, 0.0]), 0.0);
            for span in 1..spans {
                rig = rig.fix(0, [0.098 * f64::from(span), 0.0, 0.0], None, 0.0979);
            }
            rig.fix(1, [end, 0.0, 0.0], Some([1.0, 0.0, 0.0]), 0.0979)
        };
        let settings = settings(10, f64::INFINITY);
        let runs = if spans < 50 { 9 } else { 3 };
        let least = |route: &Route| {
            let mut best = (f64::INFINITY, 0);
            for _ in 0..runs {
                let start = Instant::now();
                let solution = solve(route, &settings);
                let seconds = start.elapsed().as_secs_f64();
                if seconds < best.0 {
                    best = (seconds, solution.branches[0].resolution.newton_steps);
                }
            }
            best
        };
        let (cold, swept) = (least(&rig(0.0).route), least(&rig(0.35).route));
        let elements = 10 * spans;
        let steps = swept.1 - cold.1;
        let step = (swept.0 - cold.0) / steps as f64;
        println!(
            "  {elements:>8}  {:>8.1}  {:>15.0}  {steps:>5}",
            step * 1e6,
            step * 1e9 / f64::from(elements)
        );
    }
}

/// Most memory that this process has had, where the system tells.
fn memory() {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let peak = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    match peak {
        Some(peak) => println!("\npeak memory of all of the above: {}", peak.trim()),
        None => println!("\npeak memory: this system does not say"),
    }
}

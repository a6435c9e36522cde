//! Speed and accuracy of the rod on one core; time and memory of the whole program. `cargo bench` prints the tables;
//! nothing is asserted.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::cast_precision_loss,
    missing_docs,
    reason = "a bench prints; counts are small"
)]

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use neckloom::machine::Joint;
use neckloom::rod::{Settings, Solution, solve};
use neckloom::route::Route;

#[path = "../rod/rig.rs"]
#[allow(dead_code, reason = "the tests' rigs, of which a bench needs two")]
mod rig;

mod advice;
mod growth;
mod limit;
mod peers;
mod scans;

use rig::Rig;

/// Least number of runs a row is the median of, and the time after which no more are made.
const RUNS: usize = 5;
const ENOUGH: Duration = Duration::from_millis(250);

fn main() {
    if scans::only_load() || limit::only_solve() {
        return;
    }
    if std::env::args().any(|argument| argument == "advice") {
        advice::advice();
        return;
    }
    if std::env::args().any(|argument| argument == "growth") {
        growth::growth();
        return;
    }
    if std::env::args().any(|argument| argument == "limit") {
        limit::limit();
        return;
    }
    if std::env::args().any(|argument| argument == "peers") {
        peers::peers();
        return;
    }
    scans::load_and_query();
    // `cargo bench scans` ends here.
    if std::env::args().any(|argument| argument == "scans") {
        return;
    }
    whole_checks();
    start_and_memory();
    // `cargo test --benches` calls this with arguments of its own: only show that it runs.
    rayon_of_one(|| {
        span_over_the_locks("one span, 41 angles, 12 mm slack, bent in space", 0.232);
        span_over_the_locks("one span, 41 angles, loose", 0.29);
        span_over_the_locks("one span, 41 angles, taut at a lock", 0.205);
        cost_by_elements();
    });
    limit::limit();
    advice::advice();
    growth::growth();
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
    Settings {
        elements,
        accuracy,
        ..Settings::default()
    }
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
    for spans in [1_u32, 2, 5, 10, 20, 50] {
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
        let runs = if spans < 20 { 9 } else { 3 };
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

/// The whole job, from the file to the findings, of the routes beside the tests: on all cores, as a user has it.
fn whole_checks() {
    println!(
        "\nwhole check, reading included, on {} cores",
        rayon::current_num_threads()
    );
    println!("  route                     ms, no spread  ms, with spread");
    let routes = Path::new(env!("CARGO_MANIFEST_DIR")).join("routes");
    let mut files: Vec<PathBuf> = std::fs::read_dir(routes)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|end| end == "ron"))
        .collect();
    files.sort();
    for file in &files {
        let [without, with] = [&["--no-spread"][..], &[]].map(|options| {
            program(&[&["check", "--quiet"], options, &[file.to_str().unwrap()]].concat())
        });
        let name = file.file_stem().unwrap().to_str().unwrap();
        println!(
            "  {name:<24}  {:>13.0}  {:>15.0}",
            without.time.as_secs_f64() * 1e3,
            with.time.as_secs_f64() * 1e3
        );
    }
}

/// What starting the program costs, and how much memory it needs at most, on the smallest job and on a whole machine.
fn start_and_memory() {
    println!("\nthe program itself");
    println!("  job                              ms  peak memory, MB");
    let small = Path::new(env!("CARGO_TARGET_TMPDIR")).join("bench_start.ron");
    let _ = std::fs::remove_file(&small);
    let small = small.to_str().unwrap();
    program_once(&["start", "--quiet", small]);
    let demo = concat!(env!("CARGO_MANIFEST_DIR"), "/routes/tourer_stock.ron");
    let jobs: [(&str, &[&str]); 5] = [
        ("version only", &["--version"]),
        (
            "starter route, no spread",
            &["check", "--quiet", "--no-spread", small],
        ),
        ("starter route", &["check", "--quiet", small]),
        (
            "tourer, no spread",
            &["check", "--quiet", "--no-spread", demo],
        ),
        ("tourer", &["check", "--quiet", demo]),
    ];
    for (name, arguments) in jobs {
        let run = program(arguments);
        let peak = run
            .peak
            .map_or("not told".to_owned(), |kb| format!("{:.1}", kb / 1024.0));
        println!(
            "  {name:<27}  {:>8.1}  {peak:>15}",
            run.time.as_secs_f64() * 1e3
        );
    }
}

/// One run of the program.
struct Run {
    time: Duration,
    /// Most memory it had [kB], as far as it was seen.
    peak: Option<f64>,
}

/// Runs the program a few times: the median time, and the most memory seen in one run more.
fn program(arguments: &[&str]) -> Run {
    let mut times: Vec<Duration> = (0..5).map(|_| program_once(arguments)).collect();
    times.sort();
    Run {
        time: times[times.len() / 2],
        peak: peak_memory(arguments),
    }
}

fn command(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_neckloom"));
    command
        .args(arguments)
        .stdout(Stdio::null())
        .stderr(Stdio::null());
    command
}

fn program_once(arguments: &[&str]) -> Duration {
    let start = Instant::now();
    command(arguments).status().unwrap();
    start.elapsed()
}

/// Most memory that a run of the program takes.
fn peak_memory(arguments: &[&str]) -> Option<f64> {
    program_watched(arguments).peak
}

/// Runs the program once and looks again and again at what the system says of it; the last look counts.
fn program_watched(arguments: &[&str]) -> Run {
    let start = Instant::now();
    let mut child = command(arguments).spawn().unwrap();
    let status = format!("/proc/{}/status", child.id());
    let mut peak = None;
    while child.try_wait().unwrap().is_none() {
        peak = most_memory(&status).or(peak);
        std::thread::sleep(Duration::from_micros(200));
    }
    Run {
        time: start.elapsed(),
        peak,
    }
}

/// Most memory that a process has had [kB], where the system tells.
fn most_memory(status: &str) -> Option<f64> {
    let status = std::fs::read_to_string(status).ok()?;
    let peak = status
        .lines()
        .find_map(|line| line.strip_prefix("VmHWM:"))?;
    peak.trim().strip_suffix("kB")?.trim().parse().ok()
}

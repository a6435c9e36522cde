//! How near a Newton step comes to what the machine can do: its arithmetic and its bytes, counted, beside its time.
//!
//! Counted by callgrind, instruction by instruction, and what each instruction does by objdump: the same numbers for the
//! same program, whatever else the machine is doing. What is attainable is measured (roofline: Williams, Waterman,
//! Patterson, Communications of the ACM 52(4), 2009; from memory): the most arithmetic that a loop of multiplications and
//! additions does, and no more than the bytes a second out of the nearest cache allow.

use std::collections::HashMap;
use std::hint::black_box;
use std::path::Path;
use std::process::Command;
use std::time::Instant;

use neckloom::read::route_file;
use neckloom::rod::{Resolution, Settings, solve};

use super::rig::Rig;

const SOLVES: &str = "NECKLOOM_BENCH_SOLVES";

/// In a process of its own, so that what it does can be counted: solves with so many elements, so often.
pub(crate) fn only_solve() -> bool {
    let Ok(told) = std::env::var(SOLVES) else {
        return false;
    };
    let mut numbers = told.split(' ').map(|n| n.parse::<usize>().unwrap());
    let (elements, times) = (numbers.next().unwrap(), numbers.next().unwrap());
    super::rayon_of_one(move || {
        solves(elements, times);
    });
    true
}

/// Newton steps and poses of one solve, and the least time that one took \[s\].
fn solves(elements: usize, times: usize) -> (usize, usize, f64) {
    let rig = Rig::steered(0.232, 0.09);
    let settings = super::settings(elements, f64::INFINITY);
    let mut told = (0, 0, f64::INFINITY);
    for _ in 0..times {
        let start = Instant::now();
        let solution = black_box(solve(black_box(&rig.route), &settings));
        let branch = &solution.branches[0];
        told.0 = branch.resolution.newton_steps;
        told.1 = branch.shapes.len();
        told.2 = f64::min(told.2, start.elapsed().as_secs_f64());
    }
    told
}

/// What is executed.
#[derive(Default)]
struct Counts {
    instructions: f64,
    /// Additions, multiplications, divisions, roots, least and greatest, in double precision.
    operations: f64,
    /// Of them those that are done two at once.
    paired: f64,
    /// Read and written by instructions on such numbers \[bytes\].
    bytes: f64,
}

impl Counts {
    /// Adds what an instruction does, so many times.
    fn add(&mut self, instruction: &str, times: f64) {
        self.instructions += times;
        let (name, operands) = instruction.split_once(' ').unwrap_or((instruction, ""));
        let wide = match name {
            _ if name.ends_with("sd") => 1.0,
            _ if ["pd", "ps", "dqa", "dqu"]
                .iter()
                .any(|end| name.ends_with(end)) =>
            {
                2.0
            }
            _ => return,
        };
        if operands.contains('(') {
            self.bytes += 8.0 * wide * times;
        }
        let kinds = ["add", "sub", "mul", "div", "sqrt", "max", "min"];
        if kinds.iter().any(|kind| name.starts_with(kind)) && !name.ends_with("ps") {
            self.operations += wide * times;
            self.paired += if wide > 1.0 { wide * times } else { 0.0 };
        }
    }

    fn less(&self, other: &Self, parts: f64) -> Self {
        let part = |a: f64, b: f64| (a - b) / parts;
        Self {
            instructions: part(self.instructions, other.instructions),
            operations: part(self.operations, other.operations),
            paired: part(self.paired, other.paired),
            bytes: part(self.bytes, other.bytes),
        }
    }
}

/// What each instruction of a program does, by its address; `None` where objdump is not there.
fn disassembled(program: &Path) -> Option<HashMap<u64, String>> {
    let run = Command::new("objdump")
        .args(["-d", "--no-show-raw-insn"])
        .arg(program)
        .output()
        .ok()?;
    let lines = String::from_utf8_lossy(&run.stdout).into_owned();
    let instruction = |line: &str| {
        let (address, does) = line.trim_start().split_once(":\t")?;
        let does = does.split_whitespace().collect::<Vec<_>>().join(" ");
        Some((u64::from_str_radix(address, 16).ok()?, does))
    };
    Some(lines.lines().filter_map(instruction).collect())
}

/// What so many solves execute; `None` where valgrind is not there.
fn counted(elements: usize, times: usize, does: &HashMap<u64, String>) -> Option<Counts> {
    let program = std::env::current_exe().ok()?;
    let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join("limit.callgrind");
    let run = Command::new("valgrind")
        .args([
            "--tool=callgrind",
            "--dump-instr=yes",
            "--compress-pos=no",
            "--compress-strings=no",
        ])
        .arg(format!("--callgrind-out-file={}", out.display()))
        .arg(&program)
        .env(SOLVES, format!("{elements} {times}"))
        .output()
        .ok()?;
    if !run.status.success() {
        return None;
    }
    let text = std::fs::read_to_string(out).ok()?;
    let (mut counts, mut own, mut called) = (Counts::default(), false, false);
    for line in text.lines() {
        if let Some(object) = line.strip_prefix("ob=") {
            own = Path::new(object).file_name() == program.file_name();
        } else if line.starts_with("calls=") {
            called = true;
        } else if let Some(rest) = line.strip_prefix("0x") {
            // The line after a call has the cost of all that was called.
            if std::mem::take(&mut called) {
                continue;
            }
            let mut fields = rest.split(' ');
            let address = u64::from_str_radix(fields.next()?, 16).ok()?;
            let times: f64 = fields.nth(1)?.parse().ok()?;
            let known = if own { does.get(&address) } else { None };
            counts.add(known.map_or("other", String::as_str), times);
        }
    }
    Some(counts)
}

/// The most operations a second: multiplications and additions that do not wait for each other.
fn most_operations() -> f64 {
    const CHAINS: usize = 24;
    const ROUNDS: u32 = 2_000_000;
    let mut best = 0.0_f64;
    for _ in 0..9 {
        let (by, more) = (black_box(0.999_999), black_box(1e-6));
        let mut chains = [1.0_f64; CHAINS];
        let start = Instant::now();
        for _ in 0..ROUNDS {
            for x in &mut chains {
                *x = *x * by + more;
            }
        }
        let seconds = start.elapsed().as_secs_f64();
        black_box(chains);
        best = best.max(2.0 * CHAINS as f64 * f64::from(ROUNDS) / seconds);
    }
    best
}

/// Bytes a second out of the nearest cache.
fn most_bytes() -> f64 {
    const NUMBERS: usize = 2048;
    const ROUNDS: u32 = 20_000;
    let numbers = vec![1.0_f64; NUMBERS];
    let mut best = 0.0_f64;
    for _ in 0..9 {
        let start = Instant::now();
        let mut sums = [0.0_f64; 16];
        for _ in 0..ROUNDS {
            for part in black_box(&numbers).chunks_exact(16) {
                for (sum, x) in sums.iter_mut().zip(part) {
                    *sum += x;
                }
            }
        }
        let seconds = start.elapsed().as_secs_f64();
        black_box(sums);
        best = best.max(8.0 * NUMBERS as f64 * f64::from(ROUNDS) / seconds);
    }
    best
}

/// Newton steps a pose of each strand of the demos, those of refinement and of all that was tried in vain with them; first
/// without those that rest took, which is found from nothing.
fn steps_of_the_demos() {
    println!("\nNewton steps a pose of one strand on the demos, refinement and all");
    for name in [
        "tourer_stock",
        "tourer_lower_seat",
        "tourer_taller_bars",
        "tourer_whole_harness",
    ] {
        let path = format!("routes/{name}.ron");
        let route = route_file(path.as_ref()).unwrap();
        let solution = solve(&route, &Settings::default());
        let branches = route.branches.iter().zip(&solution.branches);
        // Steps, those of rest, strands.
        let each: Vec<[f64; 3]> = branches
            .map(|(branch, solved)| {
                let Resolution {
                    newton_steps: all,
                    rest_steps: rest,
                    ..
                } = solved.resolution;
                [all, rest, branch.stretches().count()].map(|number| number as f64)
            })
            .collect();
        let sum = |i: usize| each.iter().map(|own| own[i]).sum::<f64>();
        let poses = solution.sweep.poses.len();
        let walked = |[all, rest, strands]: [f64; 3]| (all - rest) / (strands * (poses - 1) as f64);
        let whole = |[all, _, strands]: [f64; 3]| all / (strands * poses as f64);
        let most =
            |of: &dyn Fn([f64; 3]) -> f64| each.iter().map(|own| of(*own)).fold(0.0, f64::max);
        let mean = [sum(0), sum(1), sum(2)];
        println!(
            "  {name:<22} {poses:>3} poses  {:.2} in the mean, {:.2} in the branch that takes most; with rest {:.2}, {:.2}",
            walked(mean),
            most(&walked),
            whole(mean),
            most(&whole),
        );
    }
}

pub(crate) fn limit() {
    steps_of_the_demos();
    let (operations, bytes) = (most_operations(), most_bytes());
    println!(
        "\nclose to the limit: one span, 41 angles, 12 mm slack; all that a solve does, shared over its Newton steps"
    );
    println!(
        "  this machine, one core: {:.2} G operations/s, {:.1} GB/s out of the nearest cache",
        operations * 1e-9,
        bytes * 1e-9
    );
    let does = std::env::current_exe()
        .ok()
        .and_then(|exe| disassembled(&exe));
    let Some(does) = does else {
        println!("  not counted: objdump (binutils) is not there");
        return;
    };
    println!(
        "  elements  steps/pose  µs/step  instructions  operations  in pairs  bytes  G operations/s  attainable  share"
    );
    for elements in [6, 12, 24, 50, 100] {
        let mut told = (0, 0, f64::INFINITY);
        super::rayon_of_one(|| told = solves(elements, 40));
        let (steps, poses, seconds) = told;
        let counted = |times| counted(elements, times, &does);
        let (Some(one), Some(three)) = (counted(1), counted(3)) else {
            println!("  not counted: valgrind is not there");
            return;
        };
        let step = three.less(&one, 2.0 * steps as f64);
        let rate = step.operations * steps as f64 / seconds;
        let attainable = operations.min(bytes * step.operations / step.bytes);
        println!(
            "  {elements:>8}  {:>10.2}  {:>7.2}  {:>12.0}  {:>10.0}  {:>6.0} %  {:>5.0}  {:>14.2}  {:>10.2}  {:>3.0} %",
            steps as f64 / poses as f64,
            seconds / steps as f64 * 1e6,
            step.instructions,
            step.operations,
            100.0 * step.paired / step.operations,
            step.bytes,
            rate * 1e-9,
            attainable * 1e-9,
            100.0 * rate / attainable
        );
    }
}

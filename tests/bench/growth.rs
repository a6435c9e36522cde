//! How time and memory grow: with branches, with branches that meet, with spans and so with the vertices of the rod, with
//! poses, with the triangles of a scan, with the variants of a study. The whole program runs, in a process of its own, on
//! invented routes from small to a hundred times the stock demo.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use super::{Run, program, program_watched};

/// One size of one kind.
struct Row {
    size: u32,
    seconds: f64,
    megabytes: f64,
}

/// A kind of growth.
struct Kind {
    what: &'static str,
    sizes: &'static [u32],
    route: fn(u32) -> String,
}

const KINDS: [Kind; 5] = [
    Kind {
        what: "branches, each by itself over the neck (the stock demo has 3)",
        sizes: &[3, 10, 30, 100, 300],
        route: alone,
    },
    Kind {
        what: "branches that meet at breakouts in one tree",
        sizes: &[3, 11, 31, 101, 301],
        route: tree,
    },
    Kind {
        what: "spans of one branch (the stock demo has 13)",
        sizes: &[4, 13, 40, 130, 400, 1300],
        route: long,
    },
    Kind {
        what: "poses (the stock demo has 46)",
        sizes: &[11, 21, 41, 81, 161],
        route: poses,
    },
    Kind {
        what: "triangles of a scan beside one branch, read and indexed (41 poses)",
        sizes: &[10_000, 30_000, 100_000, 300_000, 1_000_000, 3_000_000],
        route: scanned,
    },
];

pub(crate) fn growth() {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR"));
    let mut charts = Vec::new();
    for (index, kind) in KINDS.iter().enumerate() {
        println!("\ngrowth: {}", kind.what);
        println!("  number   ms  ms each  peak memory, MB  grows with the power");
        let mut rows: Vec<Row> = Vec::new();
        for &size in kind.sizes {
            let file = folder.join(format!("bench_growth_{index}_{size}.ron"));
            std::fs::write(&file, (kind.route)(size)).unwrap();
            let row = measured(&file, size);
            let power = rows.last().map_or(String::new(), |last| {
                let (more, longer) = (
                    f64::from(row.size) / f64::from(last.size),
                    row.seconds / last.seconds,
                );
                format!("{:.2}", longer.ln() / more.ln())
            });
            println!(
                "  {size:>6}  {:>8.1}  {:>7.2}  {:>15.1}  {power:>20}",
                row.seconds * 1e3,
                row.seconds * 1e3 / f64::from(size),
                row.megabytes
            );
            rows.push(row);
        }
        charts.push((kind.what, rows));
    }
    charts.push((
        "variants of a study (one branch, 41 poses)",
        studies(&folder),
    ));
    let drawn = folder.join("growth.svg");
    std::fs::write(&drawn, chart(&charts)).unwrap();
    println!("\n  drawn: {}", drawn.display());
}

/// A study of so many variants of one short lead, every tenth with another state of the machine, as CSV and Parquet.
fn studies(folder: &Path) -> Vec<Row> {
    println!(
        "\ngrowth: variants of a study (one branch over the neck, 41 poses), and the size of its results"
    );
    println!(
        "  number   ms  ms each  peak memory, MB  grows with the power   CSV, kB  Parquet, kB"
    );
    let route_file = folder.join("bench_study.ron");
    let text = poses(41).replace(
        "branches: [",
        "changes: { \"longer\": [Lengthen(branch: \"b\", to: \"d\", by: 40)], \"wider\": [Travel(what: \"steering\", from: \"-44 deg\", to: \"44 deg\")] }, branches: [",
    );
    std::fs::write(&route_file, text).unwrap();
    let mut rows: Vec<Row> = Vec::new();
    for size in [10, 30, 100, 300, 1000, 3000] {
        let table = folder.join("bench_study.csv");
        let variants: String = (0..size)
            .map(|i| {
                let share = f64::from(i) / f64::from(size);
                format!("{share},{}\n", f64::from(i / 10) / f64::from(size))
            })
            .collect();
        std::fs::write(&table, format!("longer,wider\n{variants}")).unwrap();
        let (csv, parquet) = (
            folder.join("bench_studied.csv"),
            folder.join("bench_studied.parquet"),
        );
        let _gone = std::fs::remove_file(&csv);
        let words = ["study", "--quiet", "--parquet"];
        let paths = [&parquet, &table, &route_file].map(|path| path.to_str().unwrap());
        let out = ["-o", csv.to_str().unwrap()];
        // What is there is not done again, so each size runs once.
        let Run { time, peak } = program_watched(&[&words[..], &paths[..], &out[..]].concat());
        let row = Row {
            size,
            seconds: time.as_secs_f64(),
            megabytes: peak.unwrap_or(f64::NAN) / 1024.0,
        };
        let power = rows.last().map_or(String::new(), |last| {
            let more = f64::from(size) / f64::from(last.size);
            format!("{:.2}", (row.seconds / last.seconds).ln() / more.ln())
        });
        let kilobytes = |path: &Path| std::fs::metadata(path).unwrap().len() as f64 / 1e3;
        println!(
            "  {size:>6}  {:>8.1}  {:>7.2}  {:>15.1}  {power:>20}  {:>8.1}  {:>11.1}",
            row.seconds * 1e3,
            row.seconds * 1e3 / f64::from(size),
            row.megabytes,
            kilobytes(&csv),
            kilobytes(&parquet)
        );
        rows.push(row);
    }
    rows
}

fn measured(file: &Path, size: u32) -> Row {
    let Run { time, peak } = program(&["check", "--quiet", "--no-spread", file.to_str().unwrap()]);
    Row {
        size,
        seconds: time.as_secs_f64(),
        megabytes: peak.unwrap_or(f64::NAN) / 1024.0,
    }
}

/// A route about a steering axis that turns by so many degrees to each side.
fn route(lock: f64, branches: &str) -> String {
    format!(
        "(format: 1, title: \"growth (invented)\", tolerance: 2,
         bodies: {{ \"frame\": Fixed, \"steering\": Turns(on: \"frame\", through: (0, 0, 0), rake: \"27 deg\", from: \"-{lock} deg\", to: \"{lock} deg\") }},
         parts: [(name: \"backbone\", on: \"frame\", shape: Tube(along: [(45, 0, -95), (-330, 0, -70)], diameter: 44))],
         branches: [{branches}])"
    )
}

/// Four spans, the last over the neck, beside its neighbour.
fn alone(count: u32) -> String {
    let branches: String = (0..count)
        .map(|i| {
            let y = 30.0 + 0.01 * f64::from(i);
            format!(
                "(name: \"b{i}\", diameter: 7, lay: [
                   Clamp(name: \"a{i}\", on: \"frame\", at: (-430, {y}, -46), facing: (1, 0, 0)),
                   Tie(name: \"t{i}\", on: \"frame\", at: (-350, {y}, -46), slack: 1),
                   Tie(name: \"u{i}\", on: \"frame\", at: (-260, {y}, -46), slack: 1),
                   Clamp(name: \"c{i}\", on: \"frame\", at: (-165, {y}, -46), facing: (1, -0.36, 0.11), slack: 1),
                   Clamp(name: \"d{i}\", on: \"steering\", at: (-46, {}, 104), facing: (0, 0.14, 0.99), length: 219),
                 ]),",
                y - 25.0
            )
        })
        .collect();
    route(38.0, &branches)
}

/// A trunk with a breakout every 90 mm, each with a twig, and a clamp after every third; the first fixing rides on the
/// steering. Without the clamps all would be one equilibrium of hundreds of branches, as no harness is.
fn tree(count: u32) -> String {
    let twigs = (count - 1).max(2);
    let mut trunk = "(name: \"trunk\", diameter: 9, lay: [
        Clamp(name: \"K\", on: \"steering\", at: (-46, 5, 104), facing: (0, -0.14, -0.99)),
        Clamp(name: \"L\", on: \"frame\", at: (-165, 26, -46), facing: (-1, 0.36, -0.11), length: 219),"
        .to_owned();
    let mut others = String::new();
    let mut x = -165.0;
    for i in 0..twigs {
        x -= 90.0;
        let side = if i % 2 == 0 { 91.0 } else { -39.0 };
        write!(
            trunk,
            "Breakout(name: \"Y{i}\", at: ({x}, 26, -46), length: 91, branches: [\"twig {i}\"]),"
        )
        .unwrap();
        write!(
            others,
            "(name: \"twig {i}\", diameter: 5, lay: [Tie(name: \"E{i}\", on: \"frame\", at: ({}, {side}, -60), length: 96)]),",
            x - 60.0
        )
        .unwrap();
        if i % 3 == 2 || i + 1 == twigs {
            x -= 90.0;
            write!(
                trunk,
                "Clamp(name: \"C{i}\", on: \"frame\", at: ({x}, 26, -46), facing: (-1, 0, 0), length: 91),"
            )
            .unwrap();
        }
    }
    trunk.push_str("]),");
    route(38.0, &(trunk + &others))
}

/// One branch over the neck and on through so many spans, tied so that ten at a time know of each other.
fn long(spans: u32) -> String {
    let mut lay =
        "Clamp(name: \"K\", on: \"steering\", at: (-46, 5, 104), facing: (0, -0.14, -0.99)),
        Clamp(name: \"L\", on: \"frame\", at: (-165, 26, -46), facing: (-1, 0.36, -0.11), length: 219),"
            .to_owned();
    for i in 1..spans {
        let x = -165.0 - 70.0 * f64::from(i);
        let kind = if i % 10 == 0 || i + 1 == spans {
            ("Clamp", ", facing: (-1, 0, 0)")
        } else {
            ("Tie", "")
        };
        write!(
            lay,
            "{}(name: \"T{i}\", on: \"frame\", at: ({x}, 26, -46){}, length: 70.3),",
            kind.0, kind.1
        )
        .unwrap();
    }
    route(38.0, &format!("(name: \"b\", diameter: 8, lay: [{lay}])"))
}

/// A pose for every 2° of the locks.
fn poses(count: u32) -> String {
    let lock = f64::from(count - 1);
    // Farther than a steering turns, so that the span is long.
    route(
        lock.min(160.0),
        "(name: \"b\", diameter: 7, lay: [
           Clamp(name: \"c\", on: \"frame\", at: (-165, 30, -46), facing: (1, -0.36, 0.11)),
           Clamp(name: \"d\", on: \"steering\", at: (-20, 5, 104), facing: (0, 0.14, 0.99), length: 330),
         ])",
    )
}

/// One branch over the neck with a scan of so many triangles some 40 mm below it.
fn scanned(triangles: u32) -> String {
    let file = format!("bench_growth_{triangles}.stl");
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(&file);
    std::fs::write(path, super::scans::torus_stl(triangles, 150.0)).unwrap();
    let part = format!(
        "parts: [(name: \"scanned\", on: \"frame\", shape: Scan(file: \"{file}\", unit: \"mm\")), "
    );
    poses(41).replace("parts: [", &part)
}

const WIDE: f64 = 440.0;
const HIGH: f64 = 250.0;

/// Charts two in a row, both scales logarithmic: time as a full line with discs, memory as a dashed one with squares, and a dotted
/// line that grows as the number does.
fn chart(charts: &[(&str, Vec<Row>)]) -> String {
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0} {1}\" width=\"{0}\" height=\"{1}\" font-family=\"sans-serif\" font-size=\"12\">\n<title>Time and memory against the size of the job</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#fcfaf3\"/>\n",
        2.0 * WIDE,
        rows_of(charts) * HIGH + 30.0
    );
    for (index, (what, rows)) in charts.iter().enumerate() {
        let (left, top) = (
            WIDE * f64::from(u8::from(index % 2 == 1)) + 50.0,
            HIGH * rows_of(&charts[..index & !1]) + 40.0,
        );
        one_chart(&mut out, what, rows, [left, top]);
    }
    let y = rows_of(charts) * HIGH + 18.0;
    writeln!(out, "<text x=\"50\" y=\"{y}\" fill=\"#1c2733\">● full: time of one check (or study), ms · ■ dashed: most memory, MB · dotted: as the number grows · both scales logarithmic</text>\n</svg>").unwrap();
    out
}

/// Rows that so many charts need, two in each.
fn rows_of<T>(charts: &[T]) -> f64 {
    charts.chunks(2).fold(0.0, |rows, _| rows + 1.0)
}

fn one_chart(out: &mut String, what: &str, rows: &[Row], [left, top]: [f64; 2]) {
    let (wide, high) = (WIDE - 80.0, HIGH - 75.0);
    let all = || {
        rows.iter()
            .flat_map(|row| [row.seconds * 1e3, row.megabytes])
    };
    let (low, most) = (
        all().fold(f64::INFINITY, f64::min).log10().floor(),
        all().fold(0.0, f64::max).log10().ceil(),
    );
    let (first, last) = (
        f64::from(rows[0].size),
        f64::from(rows[rows.len() - 1].size),
    );
    let at = |size: f64, value: f64| {
        [
            left + wide * (size / first).ln() / (last / first).ln(),
            top + high * (1.0 - (value.log10() - low) / (most - low)),
        ]
    };
    writeln!(
        out,
        "<text x=\"{left}\" y=\"{}\" font-weight=\"bold\" fill=\"#1c2733\">{what}</text>",
        top - 12.0
    )
    .unwrap();
    let mut power = low;
    while power <= most {
        let [_, y] = at(first, 10_f64.powf(power));
        writeln!(out, "<path d=\"M{left:.1} {y:.1}h{wide:.1}\" stroke=\"#a9aca6\" stroke-width=\"0.6\"/><text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\" fill=\"#5d666b\">{}</text>", left - 6.0, y + 4.0, 10_f64.powf(power)).unwrap();
        power += 1.0;
    }
    for row in rows {
        let [x, _] = at(f64::from(row.size), 10_f64.powf(low));
        writeln!(
            out,
            "<text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\" fill=\"#5d666b\">{}</text>",
            top + high + 16.0,
            row.size
        )
        .unwrap();
    }
    let mut line = |values: &[(f64, f64)], style: &str| {
        let points: Vec<String> = values
            .iter()
            .map(|&(size, value)| {
                let [x, y] = at(size, value);
                format!("{x:.1},{y:.1}")
            })
            .collect();
        writeln!(
            out,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"#1c2733\" {style}/>",
            points.join(" ")
        )
        .unwrap();
    };
    let times: Vec<_> = rows
        .iter()
        .map(|r| (f64::from(r.size), r.seconds * 1e3))
        .collect();
    let memory: Vec<_> = rows
        .iter()
        .map(|r| (f64::from(r.size), r.megabytes))
        .collect();
    let (from, to) = (times[times.len() / 2], last);
    // No farther than the chart is high.
    let to = to.min(from.0 * 10_f64.powf(most) / from.1);
    let even = [from, (to, from.1 * to / from.0)];
    line(&times, "stroke-width=\"1.8\"");
    line(&memory, "stroke-width=\"1.2\" stroke-dasharray=\"6 4\"");
    line(&even, "stroke-width=\"1\" stroke-dasharray=\"1.5 3\"");
    for &(size, value) in &times {
        let [x, y] = at(size, value);
        writeln!(
            out,
            "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"3.2\" fill=\"#1c2733\"/>"
        )
        .unwrap();
    }
    for &(size, value) in &memory {
        let [x, y] = at(size, value);
        writeln!(
            out,
            "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"6\" height=\"6\" fill=\"#1c2733\"/>",
            x - 3.0,
            y - 3.0
        )
        .unwrap();
    }
}

//! Tables, read back and held against the JSON report.

use neckloom::check::report;
use neckloom::export::{ExportFile, ExportOptions, PoseChoice, Separator};
use neckloom::quantity::Units;
use serde_json::Value;

use super::{job, written};

/// A table as lines of named cells.
struct Read {
    header: Vec<String>,
    lines: Vec<Vec<String>>,
}

impl Read {
    fn of(file: ExportFile, options: &ExportOptions) -> Self {
        let bytes = written(file, options);
        let delimiter = match options.separator {
            Separator::Comma => b',',
            Separator::Semicolon => b';',
        };
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(delimiter)
            .from_reader(bytes.as_slice());
        let texts =
            |record: &csv::StringRecord| record.iter().map(str::to_owned).collect::<Vec<_>>();
        Self {
            header: texts(reader.headers().unwrap()),
            // Not flexible: a line of another length is an error.
            lines: reader
                .records()
                .map(|record| texts(&record.unwrap()))
                .collect(),
        }
    }

    fn cell<'t>(&self, line: &'t [String], name: &str) -> &'t str {
        let column = self.header.iter().position(|h| h == name);
        &line[column.unwrap_or_else(|| panic!("no {name} in {:?}", self.header))]
    }

    fn number(&self, line: &[String], name: &str) -> Option<f64> {
        let cell = self.cell(line, name);
        (!cell.is_empty()).then(|| cell.replace(',', ".").parse().unwrap())
    }
}

/// The same number, to the digit.
fn same(found: Option<f64>, report: &Value) -> bool {
    match (found, report.as_f64()) {
        (Some(found), Some(report)) => (found - report).abs() <= 1e-12 * report.abs(),
        (None, None) => report.is_null(),
        _ => false,
    }
}

#[test]
fn tables_say_what_the_report_says() {
    let (route, solution, findings) = job();
    let report = report(route, solution, findings);
    for separator in [Separator::Comma, Separator::Semicolon] {
        let options = ExportOptions {
            separator,
            ..ExportOptions::default()
        };
        let poses = Read::of(ExportFile::Poses, &options);
        assert_eq!(poses.lines.len(), report["poses"].as_array().unwrap().len());
        for (line, pose) in poses.lines.iter().zip(report["poses"].as_array().unwrap()) {
            assert!(same(poses.number(line, "pose"), &pose["id"]));
            assert_eq!(
                poses.cell(line, "in_words"),
                pose["in_words"].as_str().unwrap()
            );
            assert!(same(
                poses.number(line, "joint steering_deg"),
                &pose["joints"]["steering"]
            ));
            assert!(same(
                poses.number(line, "joint seat_mm"),
                &pose["joints"]["seat"]
            ));
        }

        let spans = Read::of(ExportFile::Spans, &options);
        let mut lines = spans.lines.iter();
        for branch in report["branches"].as_array().unwrap() {
            for span in branch["spans"].as_array().unwrap() {
                for pose in span["by_pose"].as_array().unwrap() {
                    let line = lines.next().unwrap();
                    for (cell, value) in [
                        ("branch", &branch["name"]),
                        ("from", &span["from"]),
                        ("to", &span["to"]),
                    ] {
                        assert_eq!(spans.cell(line, cell), value.as_str().unwrap());
                    }
                    assert!(same(spans.number(line, "length_mm"), &span["length_mm"]));
                    assert_eq!(
                        spans.cell(line, "moving") == "yes",
                        span["moving"].as_bool().unwrap()
                    );
                    assert_eq!(
                        spans.cell(line, "converged") == "yes",
                        pose["converged"].as_bool().unwrap()
                    );
                    for (cell, key) in [
                        ("pose", "pose"),
                        ("radius_mm", "radius_mm"),
                        ("slack_mm", "slack_mm"),
                        ("tension_n", "tension_n"),
                        ("twist_deg", "twist_deg"),
                    ] {
                        assert!(
                            same(spans.number(line, cell), &pose[key]),
                            "{cell}: {line:?} {pose}"
                        );
                    }
                }
            }
        }
        assert!(lines.next().is_none());

        let table = Read::of(ExportFile::Findings, &options);
        assert_eq!(
            table.lines.len(),
            report["findings"].as_array().unwrap().len()
        );
        assert!(table.lines.len() > 10);
        for (line, finding) in table
            .lines
            .iter()
            .zip(report["findings"].as_array().unwrap())
        {
            for name in [
                "check",
                "subject",
                "branch",
                "place",
                "pose_in_words",
                "verdict",
                "source",
                "advice",
            ] {
                assert_eq!(table.cell(line, name), finding[name].as_str().unwrap());
            }
            for name in [
                "at_mm",
                "pose",
                "value",
                "limit",
                "spread",
                "chance_over_pct",
            ] {
                assert!(
                    same(table.number(line, name), &finding[name]),
                    "{name}: {line:?} {finding}"
                );
            }
            let unit = table.cell(line, "unit").replace('°', "deg");
            assert_eq!(unit, finding["unit"].as_str().unwrap());
        }
    }
}

/// Every station of every shape that was chosen, with the numbers of the solution.
#[test]
fn shapes_are_those_of_the_solution() {
    let (_, solution, _) = job();
    let options = ExportOptions {
        poses: PoseChoice::All,
        ..ExportOptions::default()
    };
    let table = Read::of(ExportFile::Shapes, &options);
    let mut lines = table.lines.iter();
    for branch in &solution.branches {
        for (pose, shape) in branch.shapes.iter().enumerate() {
            for station in &shape.stations {
                let line = lines.next().unwrap();
                assert_eq!(table.cell(line, "pose"), pose.to_string());
                let close = |name: &str, value: f64| {
                    let found = table.number(line, name).unwrap();
                    assert!(
                        (found - value).abs() < 0.51e-6 * (1.0 + 1e-9),
                        "{name}: {found} {value}"
                    );
                };
                close("at_mm", station.at * 1e3);
                for (axis, name) in ["x_mm", "y_mm", "z_mm"].iter().enumerate() {
                    close(name, station.position[axis] * 1e3);
                }
                for (axis, name) in ["tangent_x", "tangent_y", "tangent_z"].iter().enumerate() {
                    close(name, station.tangent[axis]);
                }
                close("tension_n", station.tension);
                close("contact_n_per_m", station.contact);
                if let Some(radius) = table.number(line, "radius_mm") {
                    assert!((radius * station.curvature - 1e3).abs() < 1e-6 * radius.max(1e3));
                }
                close("joint seat_mm", solution.sweep.poses[pose].joints[2] * 1e3);
            }
        }
    }
    assert!(lines.next().is_none());
    let rest = ExportOptions {
        poses: PoseChoice::Rest,
        ..options
    };
    let rest = Read::of(ExportFile::Shapes, &rest);
    let id = solution.sweep.rest.to_string();
    assert!(!rest.lines.is_empty() && rest.lines.iter().all(|line| rest.cell(line, "pose") == id));
}

#[test]
fn charts_are_those_of_the_findings() {
    let (_, _, findings) = job();
    let options = ExportOptions::default();
    let along = Read::of(ExportFile::ChartsAlong, &options);
    let places: usize = findings.along.iter().map(|chart| chart.at.len()).sum();
    assert_eq!(along.lines.len(), places);
    let first = &findings.along[0];
    for (index, line) in along.lines[..first.at.len()].iter().enumerate() {
        let close = |name: &str, value: f64| match along.number(line, name) {
            Some(found) => assert!(
                (found - value * 1e3).abs() < 1e-6 * (1.0 + value.abs()),
                "{name} {found} {value}"
            ),
            None => assert!(value.is_infinite(), "{name}"),
        };
        close("at_mm", first.at[index]);
        close("inside_radius_mm", first.inside_radius[index]);
        close("radius_limit_mm", first.radius_limit[index]);
        close("hot_gap_mm", first.hot_gap[index]);
        close("hot_limit_mm", first.hot_limit[index]);
    }
    let against = Read::of(ExportFile::ChartsAgainst, &options);
    let points: usize = findings.against.iter().map(|chart| chart.poses.len()).sum();
    assert_eq!(against.lines.len(), points);
    let joints: Vec<&str> = against
        .lines
        .iter()
        .map(|line| against.cell(line, "joint"))
        .collect();
    assert!(joints.contains(&"steering") && joints.contains(&"seat"));
    for line in &against.lines {
        let steering = against.cell(line, "joint") == "steering";
        assert_eq!(
            against.cell(line, "joint_unit"),
            if steering { "°" } else { "mm" }
        );
        assert_eq!(
            against.cell(line, "load_unit"),
            if steering { "N m" } else { "N" }
        );
    }
}

#[test]
fn inches_where_inches_are_asked_for() {
    let metric = Read::of(ExportFile::Spans, &ExportOptions::default());
    let inch = ExportOptions {
        units: Units::INCH,
        ..ExportOptions::default()
    };
    let table = Read::of(ExportFile::Spans, &inch);
    for (a, b) in table.lines.iter().zip(&metric.lines) {
        for (of_inch, of_metric, factor) in [
            ("length_in", "length_mm", 25.4),
            ("slack_in", "slack_mm", 25.4),
            ("tension_lbf", "tension_n", 4.448_221_615_260_5),
            ("twist_deg", "twist_deg", 1.0),
        ] {
            let (a, b) = (
                table.number(a, of_inch).unwrap(),
                metric.number(b, of_metric).unwrap(),
            );
            assert!((a * factor - b).abs() < 2e-5, "{of_inch}: {a} {b}");
        }
    }
    let shapes = Read::of(ExportFile::Shapes, &inch);
    assert!(
        shapes.header.contains(&"contact_lbf_per_in".to_owned())
            && shapes.header.contains(&"joint seat_in".to_owned())
    );
}

#[test]
fn a_name_tells_what_to_write() {
    for file in ExportFile::ALL {
        assert_eq!(ExportFile::of_name(file.name()), Some(file));
        assert_eq!(
            ExportFile::of_name(&format!("My {}", file.name().to_uppercase())),
            Some(file)
        );
    }
    for name in ["a", "a.csv", "shapes.txt", ".csv", ""] {
        assert_eq!(ExportFile::of_name(name), None, "{name}");
    }
}

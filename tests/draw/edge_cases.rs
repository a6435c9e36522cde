//! Sheets of routes that are out of the ordinary.

use nalgebra::{Point3, Vector3};
use neckloom::check::Findings;
use neckloom::draw::{SheetOptions, display_list, sheet};
use neckloom::machine::{Body, Joint, Machine};
use neckloom::quantity::Units;
use neckloom::rod::Solution;
use neckloom::route::Route;

use super::invented;
use super::sheet::{assert_legible, assert_well_formed};

fn assert_sound(what: &str, route: &Route, solution: &Solution, findings: &Findings) {
    for units in [Units::METRIC, Units::INCH] {
        let options = SheetOptions { units };
        let svg = sheet(route, solution, findings, &options);
        if let Ok(path) = std::env::var("SHEET_OUT") {
            std::fs::write(format!("{path}-{what}.svg"), &svg).expect("written");
            let png = neckloom::draw::png(&svg, 1600).expect("drawn");
            std::fs::write(format!("{path}-{what}.png"), png).expect("written");
        }
        assert_well_formed(&svg);
        assert_legible(&display_list(route, solution, findings, &options));
    }
}

fn solved(what: &str, route: &Route) {
    let solution = invented::solution(route);
    let findings = invented::findings(route, &solution);
    assert_sound(what, route, &solution, &findings);
}

#[test]
fn nothing_was_found() {
    let route = invented::route();
    let solution = invented::solution(&route);
    let mut findings = invented::findings(&route, &solution);
    findings.findings.clear();
    findings.along.clear();
    findings.against.clear();
    findings.nearest.clear();
    findings.blanks.clear();
    assert_sound("nothing", &route, &solution, &findings);
}

#[test]
fn nothing_moves_and_nothing_is_there() {
    let mut route = invented::single_span();
    route.machine = Machine {
        bodies: vec![Body {
            name: "frame".to_owned(),
            on: None,
            joint: Joint::Fixed,
            said: None,
        }],
        parts: Vec::new(),
    };
    for lay in &mut route.branches[0].lay {
        lay.fixing.on = invented::FRAME;
    }
    solved("still", &route);
}

#[test]
fn a_single_span() {
    solved("single", &invented::single_span());
}

#[test]
fn twelve_branches() {
    let mut route = invented::route();
    for copy in 0..10 {
        let mut branch = route.branches[copy % 2].clone();
        branch.name = format!("branch {}", copy + 3);
        for lay in &mut branch.lay {
            let mut place = route.places[lay.fixing.place].clone();
            place.at += Vector3::new(0.0, -0.008, 0.004) * (copy + 1) as f64;
            route.places.push(place);
            lay.fixing.place = route.places.len() - 1;
            lay.fixing.name = format!("{}.{}", lay.fixing.name, copy + 3);
        }
        route.branches.push(branch);
    }
    solved("twelve", &route);
}

#[test]
fn long_names_and_other_scripts() {
    let mut route = invented::route();
    route.title =
        "Überlanger Titel <mit> & \"Zeichen\" – Мотоцикл, μοτοσυκλέτα, 二輪車: ".repeat(4);
    route.branches[0].name =
        "Hauptkabelbaum von der Sitzbank bis zum Scheinwerfer mit allem, was dazugehört".to_owned();
    route.branches[0].lay[2].fixing.name =
        "Befestigungsband_hinter_dem_Knotenblech_links_oben_zweites".to_owned();
    route.branches[0].lay[3].fixing.name = "лента <1>\u{7}\n& co".to_owned();
    route.machine.parts[3].name =
        "plaque d’appui soudée, côté gauche, près de la colonne de direction".to_owned();
    route.machine.bodies[1].name = "Lenkung mit Gabel und Scheinwerfer und allem".to_owned();
    route.assumed = vec!["x".repeat(500), "word ".repeat(200), String::new()];
    solved("names", &route);
}

#[test]
fn numbers_beyond_measure() {
    let mut route = invented::route();
    for place in &mut route.places {
        place.at.coords *= 1e4;
    }
    route.machine.parts[8].surface = Some(1e12);
    solved("huge", &route);
    let mut findings_of_nothing = invented::route();
    for place in &mut findings_of_nothing.places {
        place.at = Point3::new(0.1, 0.0, 0.0);
    }
    let solution = invented::solution(&invented::route());
    let mut findings = invented::findings(&invented::route(), &solution);
    for (i, finding) in findings.findings.iter_mut().enumerate() {
        finding.value = [f64::NAN, f64::INFINITY, -1e300, 0.0][i % 4];
        finding.at = [f64::NAN, 1e9, -1.0, 0.3][i % 4];
    }
    for chart in &mut findings.along {
        chart
            .inside_radius
            .iter_mut()
            .step_by(3)
            .for_each(|r| *r = f64::NAN);
        chart.hot_gap.iter_mut().for_each(|g| *g = f64::INFINITY);
    }
    for chart in &mut findings.against {
        chart.slack.iter_mut().for_each(|s| *s = f64::NAN);
        chart.load.iter_mut().for_each(|l| *l = 1e18);
    }
    assert_sound("none", &findings_of_nothing, &solution, &findings);
}

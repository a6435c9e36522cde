//! What every sheet must be.

use neckloom::check::Verdict;
use neckloom::draw::display::{Frame, Sheet};
use neckloom::draw::{SheetOptions, display_list, png, sheet};

use super::invented;

/// No line of text leaves the sheet, and no two cover each other.
pub(crate) fn assert_legible(sheet: &Sheet) {
    let paper = Frame::new(0.0, 0.0, sheet.width, sheet.height);
    // Letters rarely fill the whole height that a line of type may take; a hair of overlap is not seen.
    let frames: Vec<(Frame, &str)> = sheet
        .lines()
        .iter()
        .map(|line| (line.frame().grown(-0.15), line.text.as_str()))
        .collect();
    assert!(frames.len() > 10, "only {} lines of text", frames.len());
    for (i, (frame, text)) in frames.iter().enumerate() {
        assert!(paper.holds(frame), "{text:?} leaves the sheet: {frame:?}");
        for (other, covered) in &frames[..i] {
            assert!(
                !frame.overlaps(other),
                "{text:?} {frame:?} covers {covered:?} {other:?}"
            );
        }
    }
}

/// The text is a picture that another program reads, without a number that is none.
pub(crate) fn assert_well_formed(svg: &str) {
    let tree = resvg::usvg::Tree::from_str(svg, &resvg::usvg::Options::default());
    assert!(tree.is_ok(), "{:?}", tree.err());
    let marks = svg.split_once("</style>").expect("a style").1;
    for bad in ["NaN", "inf", "undefined"] {
        assert!(
            !marks.contains(&format!("\"{bad}")) && !marks.contains(&format!(",{bad}")),
            "{bad}"
        );
    }
}

#[test]
fn the_same_results_give_the_same_bytes() {
    let route = invented::route();
    let solution = invented::solution(&route);
    let mut findings = invented::findings(&route, &solution);
    for finding in findings.findings.iter_mut().skip(8).step_by(5).take(3) {
        finding.verdict = Verdict::Close;
        finding.chance_over = Some(0.31);
    }
    let options = SheetOptions::default();
    let first = sheet(&route, &solution, &findings, &options);
    if let Ok(path) = std::env::var("SHEET_OUT") {
        std::fs::write(format!("{path}.svg"), &first).expect("written");
        for width in [1100, 2400] {
            std::fs::write(
                format!("{path}-{width}.png"),
                png(&first, width).expect("drawn"),
            )
            .expect("written");
        }
    }
    assert_eq!(first, sheet(&route, &solution, &findings, &options));
    assert!(first.len() < 700_000, "{} bytes", first.len());
    assert_well_formed(&first);
    assert_legible(&display_list(&route, &solution, &findings, &options));
}

#[test]
fn a_picture_has_the_width_that_was_asked_for() {
    let svg = r#"<svg xmlns="http://www.w3.org/2000/svg" width="420mm" height="297mm" viewBox="0 0 420 297"/>"#;
    let bytes = png(svg, 420).expect("drawn");
    assert_eq!(&bytes[..8], b"\x89PNG\r\n\x1a\n");
    let side = |at: usize| u32::from_be_bytes(bytes[at..at + 4].try_into().expect("four bytes"));
    assert_eq!((side(16), side(20)), (420, 297));
    assert!(png(svg, 0).is_err());
    assert!(png(svg, 50_000).is_err());
    assert!(png("no picture", 100).is_err());
}

#[test]
fn the_route_to_start_from() {
    let route = neckloom::read::route_text(neckloom::read::starter(), "start.ron").expect("sound");
    let solution = neckloom::rod::solve(&route, &neckloom::rod::Settings::default());
    let findings = invented::findings(&route, &solution);
    let options = SheetOptions::default();
    let svg = sheet(&route, &solution, &findings, &options);
    if let Ok(path) = std::env::var("SHEET_OUT") {
        std::fs::write(format!("{path}-start.png"), png(&svg, 2400).expect("drawn"))
            .expect("written");
    }
    assert_well_formed(&svg);
    assert_legible(&display_list(&route, &solution, &findings, &options));
}

//! The bench sheet: every page legible, every length on paper true, in the file as on a print.

use std::process::Command;

use neckloom::draw::bench::{Bench, CHECK_BAR, Options, Paper, Results, pages, pdf, svg, tables};
use neckloom::draw::display::{Group, Mark, Sheet};
use neckloom::draw::png;
use neckloom::quantity::Units;
use resvg::tiny_skia::Pixmap;

use super::invented;
use super::sheet::{assert_legible, assert_well_formed};

/// Runs something on the pages of the invented machine.
fn with_pages(options: Options<'_>, look: impl Fn(&[Sheet], &Bench<'_>)) {
    let route = invented::route();
    let solution = invented::solution(&route);
    let findings = invented::findings(&route, &solution);
    let results = Results {
        route: &route,
        solution: &solution,
        findings: &findings,
    };
    let bench = Bench {
        after: results,
        before: Some(results),
        change: Some("taller bars"),
        work: None,
        broken: None,
        options,
    };
    look(&pages(&bench), &bench);
}

fn groups<'s>(marks: &'s [Mark], id: &str, found: &mut Vec<&'s Group>) {
    for mark in marks {
        if let Mark::Group(group) = mark {
            if group.id == id
                || (id.ends_with('*') && group.id.starts_with(id.trim_end_matches('*')))
            {
                found.push(group);
            }
            groups(&group.marks, id, found);
        }
    }
}

#[test]
fn every_page_is_legible_and_well_formed() {
    for paper in [Paper::A4, Paper::Letter] {
        for units in [Units::METRIC, Units::INCH] {
            let options = Options {
                paper,
                units,
                date: Some("2030-01-02"),
                revision: Some("B"),
                order: Some("Taller bars on the stock harness"),
            };
            with_pages(options, |pages, _| {
                assert!(pages.len() >= 7, "{}", pages.len());
                for page in pages {
                    let off = [page.width - paper.size()[0], page.height - paper.size()[1]];
                    assert!(off.iter().all(|off| off.abs() < 1e-9), "{off:?}");
                    if page.lines().len() > 10 {
                        assert_legible(page);
                    }
                    assert_well_formed(&svg(page));
                }
            });
        }
    }
}

#[test]
fn the_same_results_give_the_same_bytes() {
    with_pages(Options::default(), |pages, bench| {
        let first = pdf(pages);
        assert_eq!(first, pdf(&neckloom::draw::bench::pages(bench)));
        let text = String::from_utf8_lossy(&first);
        assert!(!text.contains("CreationDate") && !text.contains("/ID"));
        assert!(text.contains("/PrintScaling /None"));
    });
}

#[test]
fn the_strip_has_its_true_size_on_paper() {
    with_pages(Options::default(), |pages, bench| {
        let all: Vec<Mark> = pages.iter().flat_map(|page| page.marks.clone()).collect();
        let mut strips = Vec::new();
        groups(&all, "strip-*", &mut strips);
        assert!(strips.len() > 2);
        // Long ticks of every ruler are 10 mm apart.
        for strip in &strips {
            let mut rulers = Vec::new();
            groups(&strip.marks, "ruler", &mut rulers);
            let [ruler] = rulers[..] else {
                panic!("one ruler a row")
            };
            let Some(Mark::Figure(long)) = ruler.marks.last() else {
                panic!("ticks")
            };
            let xs: Vec<f64> = long.contours.iter().map(|tick| tick[0][0]).collect();
            for pair in xs.windows(2) {
                assert!((pair[1] - pair[0] - 10.0).abs() < 1e-9, "{pair:?}");
            }
        }
        // All rows of a branch together are as long as it is.
        let lengths: f64 = bench
            .after
            .solution
            .branches
            .iter()
            .map(|branch| 1e3 * branch.spans.last().unwrap().end())
            .sum();
        let drawn: f64 = strips
            .iter()
            .map(|strip| {
                // The band is the first figure of a row.
                let bands = strip.marks.iter().find_map(|mark| match mark {
                    Mark::Figure(figure) if figure.closed => Some(figure),
                    _ => None,
                });
                let xs = bands.unwrap().contours[0].iter().map(|s| s[0]);
                let (low, high) = xs.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| {
                    (a.min(x), b.max(x))
                });
                high - low
            })
            .sum();
        // Rows that go on are drawn 5 mm over their join on both sides of it.
        let joins = (strips.len() - bench.after.route.branches.len()) as f64;
        assert!(
            (drawn - lengths - 10.0 * joins).abs() < 1e-6,
            "{drawn} for {lengths} and {joins}"
        );
    });
}

/// The objects of a PDF file that are streams, unpacked.
fn streams(file: &[u8]) -> Vec<Vec<u8>> {
    let find = |from: usize, what: &[u8]| {
        file[from..]
            .windows(what.len())
            .position(|w| w == what)
            .map(|i| from + i)
    };
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(begin) = find(at, b"\nstream\n") {
        let begin = begin + 8;
        let end = find(begin, b"\nendstream").unwrap();
        if let Ok(bytes) = miniz_oxide::inflate::decompress_to_vec_zlib(&file[begin..end]) {
            found.push(bytes);
        }
        at = end;
    }
    found
}

#[test]
fn the_file_says_the_true_size_of_page_and_bar() {
    with_pages(Options::default(), |pages, _| {
        let file = pdf(pages);
        let text = String::from_utf8_lossy(&file);
        let boxes: Vec<Vec<f64>> = text
            .match_indices("/MediaBox [")
            .map(|(at, start)| {
                let rest = &text[at + start.len()..];
                let inside = rest.split(']').next().unwrap();
                inside
                    .split_whitespace()
                    .map(|n| n.parse().unwrap())
                    .collect()
            })
            .collect();
        assert_eq!(boxes.len(), pages.len());
        for found in &boxes {
            // ISO 216 A4 in points of 1/72 in.
            assert!(
                (found[2] - 297.0 / 25.4 * 72.0).abs() < 1e-3
                    && (found[3] - 210.0 / 25.4 * 72.0).abs() < 1e-3
            );
        }
        let drawn: Vec<String> = streams(&file)
            .into_iter()
            .filter_map(|bytes| String::from_utf8(bytes).ok())
            .filter(|text| text.contains(" cm\n"))
            .collect();
        assert_eq!(drawn.len(), pages.len());
        for page in &drawn {
            // The one matrix of the page: points a millimetre.
            let matrix: Vec<f64> = page
                .lines()
                .next()
                .unwrap()
                .split(' ')
                .filter_map(|n| n.parse().ok())
                .collect();
            let scale = matrix[0];
            assert!((scale * 25.4 / 72.0 - 1.0).abs() < 1e-6, "{scale}");
            // The bar's ten cells: moves to their upper left corners, 14.5 mm above the lower edge.
            let lefts: Vec<f64> = page
                .lines()
                .filter_map(|line| {
                    let n: Vec<f64> = line
                        .strip_suffix(" m")?
                        .split(' ')
                        .filter_map(|n| n.parse().ok())
                        .collect();
                    (n.len() == 2 && (n[1] - 195.5).abs() < 1e-3).then_some(n[0])
                })
                .take(10)
                .collect();
            assert_eq!(lefts.len(), 10);
            let bar = (lefts[9] - lefts[0]) * scale / 72.0 * 25.4 + 10.0;
            assert!((bar / CHECK_BAR - 1.0).abs() < 1e-5, "{bar} mm");
        }
    });
}

/// Dots a millimetre of the pictures that are measured: 508 an inch.
const DOTS: u32 = 20;

/// Length of the check bar on a picture of an A4 page \[mm\]: from the left edge of its first dark cell to the right edge of
/// its last outline, in the row through its middle.
fn bar_on(picture: &Pixmap) -> f64 {
    // 14.5 mm above the lower edge, 2.4 mm high.
    let row = (2100 - 145 + 12) * DOTS / 10;
    let dark = |x: &u32| picture.pixel(*x, row).unwrap().green() < 153;
    // The bar lies between 12 and 112 mm, its words begin at 116 mm.
    let (from, to) = (8 * DOTS, 114 * DOTS);
    let first = (from..to).find(dark).unwrap();
    let last = (from..to).rev().find(dark).unwrap();
    f64::from(last - first + 1) / f64::from(DOTS)
}

#[test]
fn a_picture_of_the_page_has_the_bar_at_its_true_size() {
    with_pages(Options::default(), |pages, _| {
        let bytes = png(&svg(&pages[0]), 297 * DOTS).unwrap();
        let picture = Pixmap::decode_png(&bytes).unwrap();
        let bar = bar_on(&picture);
        // The outline of the cells is 0.15 mm wide and lies half outside at both ends.
        assert!((bar - 0.15 - CHECK_BAR).abs() < 0.2, "{bar} mm");
    });
}

#[test]
fn a_print_has_bar_and_strip_at_their_true_size() {
    let found = Command::new("pdftoppm").arg("-v").output();
    if found.is_err() {
        println!(
            "not run: pdftoppm (poppler-utils) is not installed; the geometry of the file is checked without it"
        );
        return;
    }
    with_pages(Options::default(), |pages, _| {
        let folder = tempfile::TempDir::new().unwrap();
        let file = folder.path().join("sheet.pdf");
        std::fs::write(&file, pdf(pages)).unwrap();
        let strip = pages.iter().position(|page| {
            let mut strips = Vec::new();
            groups(&page.marks, "strip-0", &mut strips);
            !strips.is_empty()
        });
        let page = strip.unwrap() + 1;
        let picture = folder.path().join("page");
        let status = Command::new("pdftoppm")
            .args([
                "-r",
                "508",
                "-png",
                "-singlefile",
                "-f",
                &page.to_string(),
                "-l",
                &page.to_string(),
            ])
            .args([&file, &picture])
            .status()
            .unwrap();
        assert!(status.success());
        let bytes = std::fs::read(folder.path().join("page.png")).unwrap();
        let picture = Pixmap::decode_png(&bytes).unwrap();
        // A page is no whole number of dots; a renderer may round up.
        assert!(picture.width().abs_diff(297 * DOTS) <= 1);
        assert!(picture.height().abs_diff(210 * DOTS) <= 1);
        let bar = bar_on(&picture);
        println!("check bar on the print: {:.3} mm", bar - 0.15);
        assert!(((bar - 0.15) / CHECK_BAR - 1.0).abs() < 0.002, "{bar} mm");
        // The long ticks of the first row's ruler, in the row of pixels near their lower ends.
        let mut rulers = Vec::new();
        groups(&pages[page - 1].marks, "ruler", &mut rulers);
        let Some(Mark::Figure(long)) = rulers[0].marks.last() else {
            panic!("ticks")
        };
        let mm = |dots: u32| (f64::from(dots) + 0.5) / f64::from(DOTS);
        let foot = long.contours[0][1][1] - 0.4;
        let y = (0..picture.height()).find(|y| mm(*y) > foot).unwrap();
        let wanted: Vec<f64> = long.contours.iter().map(|tick| tick[0][0]).collect();
        let dark = |x: &u32| picture.pixel(*x, y).unwrap().green() < 140;
        let near = |place: f64| {
            let beside = (0..picture.width()).filter(|x| (mm(*x) - place).abs() < 1.0);
            let at: Vec<f64> = beside.filter(dark).map(mm).collect();
            at.iter().sum::<f64>() / at.len() as f64
        };
        let (first, last) = (near(wanted[0]), near(wanted[wanted.len() - 1]));
        let whole = wanted[wanted.len() - 1] - wanted[0];
        println!(
            "strip on the print: {:.3} mm for {whole:.3} mm",
            last - first
        );
        assert!(((last - first) / whole - 1.0).abs() < 0.002);
    });
}

#[test]
fn tables_hold_what_the_pages_show() {
    with_pages(Options::default(), |_, bench| {
        let tables = tables(bench);
        for table in &tables {
            assert_eq!(table.head.len(), table.shares.len(), "{}", table.stem);
            assert!(
                table.rows.iter().all(|row| row.len() == table.head.len()),
                "{}",
                table.stem
            );
        }
        let ties = tables.iter().find(|table| table.stem == "ties").unwrap();
        let fixings: usize = bench
            .after
            .route
            .branches
            .iter()
            .map(|branch| branch.lay.len())
            .sum();
        assert_eq!(ties.rows.len(), fixings);
    });
}

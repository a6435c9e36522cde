//! What every sheet must be.

use neckloom::draw::{SheetOptions, display_list, png, sheet};

use super::invented;

#[test]
fn the_same_results_give_the_same_bytes() {
    let route = invented::route();
    let solution = invented::solution(&route);
    let findings = invented::findings(&route, &solution);
    let options = SheetOptions::default();
    let first = sheet(&route, &solution, &findings, &options);
    assert_eq!(first, sheet(&route, &solution, &findings, &options));
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
    let _ = display_list(&route, &solution, &findings, &options);
}

//! Tables of variants.

use neckloom::advise::StudyTable;
use neckloom::read::route_text;

use crate::cli::run::small_route;

#[test]
fn tables_of_either_kind_are_read() {
    let csv = StudyTable::of_csv("variant,up,back\na,0.5,10 mm\nb,50 %,\n").unwrap();
    let ron =
        StudyTable::of_ron("{ \"up\": [0, 0.5, 1], \"back\": [\"0 mm\", \"10 mm\"] }").unwrap();
    assert_eq!((csv.rows.len(), ron.rows.len()), (2, 6));
    let text = small_route(280.0).replace(
        "branches: [(",
        "changes: { \"up\": [Move(what: \"T2\", by: (0, 0, 10))], \"back\": [Move(what: \"T2\", by: (-20, 0, 0))] }, branches: [(",
    );
    let route = route_text(&text, "r.ron").unwrap();
    let (changes, shares) = csv.shares(&route, "r.ron").unwrap();
    assert_eq!(
        (changes[0].name.as_str(), changes[1].name.as_str()),
        ("up", "back")
    );
    for (row, wanted) in shares.iter().zip([[0.5, 0.5], [0.5, 0.0]]) {
        for (share, wanted) in row.iter().zip(wanted) {
            assert!((share - wanted).abs() < 1e-12, "{shares:?}");
        }
    }
    let (_, shares) = ron.shares(&route, "r.ron").unwrap();
    assert!(
        (shares[5].iter().sum::<f64>() - 1.5).abs() < 1e-12,
        "{shares:?}"
    );
}

#[test]
fn what_is_wrong_with_a_table_is_said() {
    let route = route_text(&small_route(280.0), "r.ron").unwrap();
    let of = |text: &str| match StudyTable::of_csv(text) {
        Ok(table) => table.shares(&route, "r.ron").unwrap_err().to_string(),
        Err(error) => error.to_string(),
    };
    assert!(of("").contains("no variants"), "{}", of(""));
    assert!(of("up\n1\n").contains("has no change \"up\""));
    assert!(of("up,up\n1,2\n").contains("stands here twice"));
    assert!(
        of("up,back\n1\n").starts_with("line 2"),
        "{}",
        of("up,back\n1\n")
    );
    assert!(StudyTable::of_ron("{ \"a\": [] }").is_err());
    assert!(
        StudyTable::of_ron("{ \"a\": ")
            .unwrap_err()
            .to_string()
            .starts_with("line 1")
    );
}

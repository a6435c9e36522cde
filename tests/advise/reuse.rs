//! A change that reaches some branches alone gives the same as solving everything anew.

use neckloom::advise::Solved;
use neckloom::check::Options;
use neckloom::read::route_file;

#[test]
fn what_is_taken_over_is_what_would_be_found_again() {
    let options = Options {
        spread: false,
        ..Options::default()
    };
    let route = route_file("routes/tourer_lower_seat.ron".as_ref()).unwrap();
    let base = Solved::new(route, &options);
    for change in &base.route.changes {
        let changed = base.route.changed(change, 0.3).unwrap();
        let quick = base.with(changed.clone(), &options);
        let anew = Solved::new(changed.clone(), &options);
        let same = base.with_same(changed, &options);
        for (a, b) in same.findings.findings.iter().zip(&anew.findings.findings) {
            assert_eq!(
                (a.check, &a.subject, &a.advice),
                (b.check, &b.subject, &b.advice)
            );
        }
        assert_eq!(same.findings.findings.len(), anew.findings.findings.len());
        assert_eq!(same.findings.blanks.len(), anew.findings.blanks.len());
        assert_eq!(quick.findings.findings.len(), anew.findings.findings.len());
        for (a, b) in quick.findings.findings.iter().zip(&anew.findings.findings) {
            assert_eq!((a.check, &a.subject, a.pose), (b.check, &b.subject, b.pose));
            assert!(
                (a.value - b.value).abs() <= 1e-9 * b.value.abs().max(1e-6),
                "{a:?}\n{b:?}"
            );
        }
    }
}

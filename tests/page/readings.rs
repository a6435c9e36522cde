//! Slack gathered by hand at three bar angles: what fits and what does not is told while it is typed.

use serde_json::Value;

use super::chromium::Page;
use super::client::SMALL;
use super::opened::{CHECKED, opened, pick, press, save, write};

/// What the page says of each reading: by how much it is off \[mm\].
const OFF: &str =
    "[...document.querySelectorAll('.leaf li[data-off]')].map(e => Number(e.dataset.off))";

/// The readings of the span that ends at K3, as `check --json` has them.
fn in_report(report: &Value) -> &Value {
    let spans = report["branches"][0]["spans"].as_array().unwrap();
    let span = spans.iter().find(|span| span["to"] == "K3").unwrap();
    &span["string"]
}

fn told(page: &mut Page) -> String {
    page.text("document.querySelector('.leaf').innerText")
}

#[test]
fn slack_at_three_angles_agrees_or_says_which_to_read_again() {
    let Some((folder, _server, mut page)) = opened(SMALL, 1920, 1080) else {
        return;
    };
    page.click("#tab-measure");
    pick(&mut page, "Span", "K2\u{2013}K3 (neck), moves");
    // What the file has is laid off with a string: it is taken away, and slack is read instead.
    write(&mut page, "Length by string", "");
    // With a length of 219 mm these are to spare: the distances follow from the points and 35° about the axis.
    let spare = spare_of(219.0);
    for (label, mm) in [
        "Slack, full left",
        "Slack, straight ahead",
        "Slack, full right",
    ]
    .iter()
    .zip(spare)
    {
        write(&mut page, label, &format!("{mm:.1}"));
    }
    page.until(&format!("{OFF}.length === 3"));
    page.until(&format!("{OFF}.every(x => Math.abs(x) < 0.5)"));
    assert!(
        told(&mut page).contains("Reckoned with: 219 mm"),
        "{}",
        told(&mut page)
    );
    // One is read wrong by 40 mm: it is named.
    write(
        &mut page,
        "Slack, full right",
        &format!("{:.1}", spare[2] + 40.0),
    );
    page.until("document.querySelector('.leaf').innerText.includes('They do not agree. Read again: full right.')");
    press(&mut page, "Use these readings");
    page.until("document.querySelectorAll('.tools button')[2].textContent === 'Save'");
    page.until(CHECKED);
    save(&mut page);
    let report: Value = serde_json::from_str(&folder.run("check --json my.ron").out).unwrap();
    let string = in_report(&report);
    assert_eq!(string["suspect"], "right", "{string}");
    let off = page.value(OFF);
    for (page, report) in off
        .as_array()
        .unwrap()
        .iter()
        .zip(string["readings"].as_array().unwrap())
    {
        assert_eq!(page, &report["off_mm"]);
    }
    let saved = String::from_utf8(folder.read("my.ron")).unwrap();
    let k3 = saved.lines().find(|line| line.contains("\"K3\"")).unwrap();
    assert!(
        k3.contains("spare: (left:") && !k3.contains("length: 219"),
        "{k3}"
    );
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// The slack over the straight way between K2 on the frame and K3 on the bars at 35° left, straight and 35° right, by
/// turning K3 about an axis through zero that leans rearward by 27°.
fn spare_of(length: f64) -> [f64; 3] {
    use nalgebra::{Rotation3, Unit, Vector3};
    let lean = 27.0_f64.to_radians();
    let axis = Unit::new_normalize(Vector3::new(-lean.sin(), 0.0, lean.cos()));
    let (k2, k3) = (
        Vector3::new(-165.0, 26.0, -46.0),
        Vector3::new(-46.0, 5.0, 104.0),
    );
    [35.0_f64, 0.0, -35.0].map(|angle| {
        let turned = Rotation3::from_axis_angle(&axis, angle.to_radians()) * k3;
        length - (turned - k2).norm()
    })
}

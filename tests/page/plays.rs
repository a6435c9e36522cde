//! A joint played from stop to stop: the machine turns as far as its slider says, and the harness goes along.

use serde_json::{Value, json};

use super::opened::{INKED, STOCK, choose, enlarge, opened, photo, press};

/// Looks at the page in every frame until the steering was near both of its stops and passed the middle: the slider's value,
/// where the headlamp's and a tie's hairline begin, and all points of the large view in the harness's colour.
const WATCHED: &str = "new Promise((done, gave_up) => {
    const slider = document.querySelector(\"input[aria-label^='steering, from']\");
    const [from, to] = [Number(slider.min), Number(slider.max)];
    const view = document.querySelector('.view.large');
    const start = (name) => { const n = [...view.querySelectorAll('.name')].find(e => e.textContent === name || e.textContent.startsWith(`${name} `)); const m = /translate\\(([-\\d.]+)px, ([-\\d.]+)px/.exec(n?.nextElementSibling.style.transform ?? ''); return m && [Number(m[1]), Number(m[2])]; };
    const band = () => INKED('band').map(at => at.join());
    const seen = {};
    const begun = performance.now();
    let next = Number(slider.value);
    const look = () => {
        // What is drawn in a frame is what was asked for in the one before.
        const value = next;
        next = Number(slider.value);
        const near = value < from + 0.6 ? 'right' : value > to - 0.6 ? 'left' : Math.abs(value) < 3 ? 'middle' : null;
        const [lamp, tie] = [start('headlamp'), start('T4')];
        if (near && lamp && tie && (!seen[near] || Math.abs(value) > Math.abs(seen[near].value))) seen[near] = { value, lamp, tie, band: band() };
        if (seen.right && seen.left && near === 'middle') {
            const alone = (one, other) => { const there = new Set(other.band); return one.band.filter(i => !there.has(i)).length; };
            const told = (one, other) => ({ value: one.value, lamp: one.lamp, tie: one.tie, drawn: one.band.length, alone: alone(one, other) });
            return done([told(seen.right, seen.left), told(seen.middle, seen.left), told(seen.left, seen.right)]);
        }
        if (performance.now() - begun > 60000) return gave_up(JSON.stringify(Object.keys(seen)));
        requestAnimationFrame(look);
    };
    look();
})";

#[test]
fn played_from_lock_to_lock_the_machine_turns_and_the_harness_with_it() {
    let Some((_folder, server, mut page)) = opened(STOCK, 1920, 1080) else {
        return;
    };
    choose(&mut page, "headlamp");
    enlarge(&mut page, "axis");
    page.click("[aria-label='Play steering from stop to stop']");
    let seen = page.value(&WATCHED.replace("INKED", INKED));
    page.photograph(&photo("play"));
    let [right, middle, left] = [0, 1, 2].map(|nth| &seen[nth]);
    let number = |of: &Value, what: &str| of[what].as_f64().unwrap();
    // As far as the file lets it.
    let scene = server.get("api/scene").good();
    let bodies = scene["bodies"].as_array().unwrap();
    let joint = &bodies.iter().find(|b| b["name"] == "steering").unwrap()["joint"];
    assert!(number(right, "value") < number(joint, "from") + 1.0);
    assert!(number(left, "value") > number(joint, "to") - 1.0);
    // Seen along the axis, lamp and tie turn about one point by as much as the slider has turned.
    let turned = number(left, "value") - number(right, "value");
    let at = |of: &Value, what: &str| [0, 1].map(|i| of[what][i].as_f64().unwrap());
    let mut middles = Vec::new();
    for what in ["lamp", "tie"] {
        let [a, b, c] = [right, middle, left].map(|of| at(of, what));
        let centre = about(a, b, c);
        let angle = |p: [f64; 2]| (p[1] - centre[1]).atan2(p[0] - centre[0]).to_degrees();
        let swept = (angle(c) - angle(a)).rem_euclid(360.0);
        let swept = swept.min(360.0 - swept);
        assert!(
            (swept - turned).abs() < 1.0,
            "{what}: {swept}°, not {turned}°"
        );
        middles.push(centre);
    }
    let apart = (middles[0][0] - middles[1][0]).hypot(middles[0][1] - middles[1][1]);
    assert!(apart < 6.0, "{middles:?}");
    // What is drawn of the harness lies elsewhere at either stop.
    for of in [right, left] {
        let (drawn, other) = (number(of, "drawn"), number(of, "alone"));
        assert!(drawn > 500.0 && other > 0.2 * drawn, "{other} of {drawn}");
    }
    // Stopped, it stays where it is.
    press(&mut page, "Stop");
    let value = "document.querySelector(\"input[aria-label^='steering, from']\").value";
    let stopped = page.value(value);
    page.value("new Promise(done => setTimeout(done, 500))");
    assert_eq!(page.value(value), stopped);
    let again =
        "document.querySelector('[aria-label=\"Play steering from stop to stop\"]').textContent";
    assert_eq!(page.value(again), json!("Play"));
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// The point that three others are equally far from.
fn about(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> [f64; 2] {
    let square = |p: [f64; 2]| p[0] * p[0] + p[1] * p[1];
    let d = 2.0 * (a[0] * (b[1] - c[1]) + b[0] * (c[1] - a[1]) + c[0] * (a[1] - b[1]));
    let by = |i: usize, j: usize| match i {
        0 => square(a) * (b[j] - c[j]) + square(b) * (c[j] - a[j]) + square(c) * (a[j] - b[j]),
        _ => square(a) * (c[j] - b[j]) + square(b) * (a[j] - c[j]) + square(c) * (b[j] - a[j]),
    };
    [by(0, 1) / d, by(1, 0) / d]
}

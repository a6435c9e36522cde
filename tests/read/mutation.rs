//! Damaged files never panic, and nothing passes that the ron crate would refuse.

use neckloom::read::{places_text, route_text, starter};

/// A small generator of random numbers: Marsaglia, "Xorshift RNGs", J. Stat. Softw. 8(14), 2003, triple (13, 7, 17).
struct Random(u64);

impl Random {
    fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 % n.max(1) as u64).unwrap()
    }
}

const PIECES: [&str; 36] = [
    "(",
    ")",
    "[",
    "]",
    "{",
    "}",
    ",",
    ":",
    "\"",
    "\\",
    "'",
    "#",
    "r#\"",
    "//",
    "/*",
    "*/",
    "-",
    "0",
    "1e999",
    "NaN",
    "inf",
    "None",
    "Some(",
    "Tape(",
    "\"\"",
    "ü",
    "\u{feff}",
    "\0",
    "\n",
    " ",
    "0x",
    "1_0",
    "\"1 in\"",
    "\"3 deg\"",
    "-5",
    "\u{2028}",
];

/// A start, a length and a replacement, on the boundaries of characters.
fn mutate(text: &str, random: &mut Random) -> String {
    let boundary = |mut at: usize| {
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let from = boundary(random.below(text.len() + 1));
    let reach = if random.below(8) == 0 { 400 } else { 6 };
    let to = boundary((from + random.below(reach)).min(text.len())).max(from);
    match random.below(6) {
        0 => text[..from].to_owned(),
        1 => format!("{}{}", &text[..from], &text[to..]),
        2 => format!("{}{}{}", &text[..to], &text[from..to], &text[to..]),
        3 => {
            let piece = PIECES[random.below(PIECES.len())];
            format!("{}{piece}{}", &text[..from], &text[from..])
        }
        _ => {
            let piece = PIECES[random.below(PIECES.len())];
            format!("{}{piece}{}", &text[..from], &text[to..])
        }
    }
}

fn originals() -> [String; 2] {
    let file = std::fs::read_to_string("tests/data/routes/every_field.ron").unwrap();
    [file, starter().to_owned()]
}

#[test]
fn mutations_and_truncations_never_panic() {
    let mut random = Random(0x9e37_79b9_7f4a_7c15);
    let (mut good, mut bad) = (0, 0);
    for original in originals() {
        for _ in 0..1500 {
            let mut text = original.clone();
            for _ in 0..=random.below(3) {
                text = mutate(&text, &mut random);
            }
            let lines = 1 + text.matches('\n').count();
            match route_text(&text, "m.ron") {
                Ok(_) => good += 1,
                Err(faults) => {
                    bad += 1;
                    assert!(!faults.faults.is_empty());
                    let places: Vec<_> = faults.faults.iter().filter_map(|f| f.place).collect();
                    assert!(places.is_sorted(), "{faults}");
                    assert!(places.iter().all(|p| p.0 >= 1 && p.0 <= lines && p.1 >= 1));
                    assert!(!faults.faults.iter().any(|f| f.message.is_empty()));
                }
            }
            let _ = places_text(&text, "m.ron");
        }
    }
    assert!(
        good > 100 && bad > 1000,
        "{good} good, {bad} bad: the mutations test little"
    );
}

#[test]
fn what_the_ron_crate_refuses_is_refused() {
    let mut random = Random(0x1234_5678_9abc_def1);
    let mut agreed = 0;
    for original in originals() {
        for _ in 0..800 {
            let text = mutate(&original, &mut random);
            let ron_takes = ron::from_str::<Box<ron::value::RawValue>>(&text).is_ok();
            let ours = route_text(&text, "m.ron");
            if !ron_takes {
                assert!(ours.is_err(), "ron refuses what we take:\n{text}");
                agreed += 1;
            }
        }
    }
    assert!(agreed > 300, "{agreed}");
}

//! Labels on poles above the band: at which height each stands.

use crate::draw::bench::paper::FINE;
use crate::draw::lettering;

/// A label on a pole.
pub(super) struct Flag {
    pub(super) x: f64,
    pub(super) text: String,
    pub(super) bold: bool,
}

/// Where a flag's text stands.
pub(super) struct Placed {
    pub(super) level: usize,
    pub(super) text: [f64; 2],
}

/// Levels for the flags, so that no text lies over another and no pole crosses one.
pub(super) fn levels(flags: &[Flag], right_edge: f64) -> Vec<Placed> {
    let mut order: Vec<usize> = (0..flags.len()).collect();
    order.sort_by(|&a, &b| flags[b].x.total_cmp(&flags[a].x));
    let mut placed: Vec<Option<Placed>> = flags.iter().map(|_| None).collect();
    for index in order {
        let flag = &flags[index];
        let wide = lettering::width(&flag.text, FINE, flag.bold);
        let start = if flag.x + 1.3 + wide > right_edge {
            flag.x - 1.3 - wide
        } else {
            flag.x + 1.3
        };
        let text = [start, start + wide];
        let done: Vec<(f64, &Placed)> = flags
            .iter()
            .zip(&placed)
            .filter_map(|(flag, placed)| Some((flag.x, placed.as_ref()?)))
            .collect();
        let free = |level: usize| {
            done.iter().all(|(x, other)| {
                let overlap = text[0] < other.text[1] + 1.5 && other.text[0] < text[1] + 1.5;
                let my_pole = flag.x > other.text[0] - 0.5 && flag.x < other.text[1] + 0.5;
                let its_pole = *x > text[0] - 0.5 && *x < text[1] + 0.5;
                match other.level.cmp(&level) {
                    std::cmp::Ordering::Equal => !overlap,
                    std::cmp::Ordering::Less => !my_pole,
                    std::cmp::Ordering::Greater => !its_pole,
                }
            })
        };
        let level = (0..=flags.len())
            .find(|&level| free(level))
            .unwrap_or(flags.len());
        placed[index] = Some(Placed { level, text });
    }
    placed.into_iter().flatten().collect()
}

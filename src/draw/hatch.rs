//! Hatching: parallel lines cut to an area.

use super::display::Spot;

/// Lines across `contours` (even-odd), `gap` \[mm\] apart, leaning by `angle` \[rad\] from the horizontal. The
/// lines stand where they would on the whole sheet, so that neighbouring areas match.
pub(crate) fn hatch(contours: &[Vec<Spot>], gap: f64, angle: f64) -> Vec<Vec<Spot>> {
    let (sin, cos) = angle.sin_cos();
    let turn = |s: &Spot| [s[0] * cos + s[1] * sin, s[1] * cos - s[0] * sin];
    let back = |s: Spot| [s[0] * cos - s[1] * sin, s[1] * cos + s[0] * sin];
    let turned: Vec<Vec<Spot>> = contours
        .iter()
        .map(|contour| contour.iter().map(turn).collect())
        .collect();
    let levels = turned.iter().flatten().map(|s| s[1]);
    let low = levels.clone().fold(f64::INFINITY, f64::min);
    let high = levels.fold(f64::NEG_INFINITY, f64::max);
    if !(low.is_finite() && high.is_finite() && gap > 0.0) || (high - low) / gap > 10_000.0 {
        return Vec::new();
    }
    let mut lines = Vec::new();
    let mut level = (low / gap).floor() * gap + 0.5 * gap;
    while level < high {
        let mut crossings: Vec<f64> = turned
            .iter()
            .flat_map(|contour| {
                let next = contour.iter().cycle().skip(1);
                let crossing = contour.iter().zip(next);
                crossing
                    .filter(|(a, b)| (a[1] <= level) != (b[1] <= level))
                    .map(|(a, b)| a[0] + (level - a[1]) / (b[1] - a[1]) * (b[0] - a[0]))
            })
            .collect();
        crossings.sort_by(f64::total_cmp);
        for pair in crossings.chunks_exact(2) {
            if pair[1] - pair[0] > 0.2 {
                lines.push(vec![back([pair[0], level]), back([pair[1], level])]);
            }
        }
        level += gap;
    }
    lines
}

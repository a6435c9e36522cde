//! How thick a branch is along its length: the lumps of splices stand out from the bundle.

use crate::harness::BranchId;

use super::Route;

/// A stretch of a branch, and how thick the branch is there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Girth {
    /// Distance along the branch from its first fixing to where the stretch begins \[m\].
    pub from: f64,
    /// Where it ends \[m\].
    pub to: f64,
    /// Half the outside diameter \[m\].
    pub radius: f64,
}

impl Girth {
    /// Whether a place along the branch \[m\] lies in the stretch.
    fn holds(&self, at: f64) -> bool {
        (self.from..=self.to).contains(&at)
    }
}

impl Route {
    /// The whole branch first, as thick as its bundle; then every stretch that the lump of a splice makes thicker.
    /// Where lumps lie over each other they add up.
    pub fn girths(&self, branch: BranchId) -> Vec<Girth> {
        let radius = 0.5 * self.branches[branch.0].diameter;
        let whole = Girth {
            from: f64::NEG_INFINITY,
            to: f64::INFINITY,
            radius,
        };
        let lumps: Vec<Girth> = self
            .splices
            .iter()
            .filter(|splice| splice.branch == branch)
            .map(|splice| {
                let (from, to) = splice.extent();
                let radius = 0.5 * splice.lump(self.wires[splice.wire.0].outside);
                Girth { from, to, radius }
            })
            .collect();
        let mut cuts: Vec<f64> = lumps.iter().flat_map(|lump| [lump.from, lump.to]).collect();
        cuts.sort_by(f64::total_cmp);
        cuts.dedup();
        let thicker = cuts.windows(2).filter_map(|ends| {
            let middle = 0.5 * (ends[0] + ends[1]);
            let here = lumps.iter().filter(|lump| lump.holds(middle));
            let more: f64 = here.map(|lump| lump.radius).sum();
            (more > 0.0).then_some(Girth {
                from: ends[0],
                to: ends[1],
                radius: radius + more,
            })
        });
        std::iter::once(whole).chain(thicker).collect()
    }

    /// Outside diameter of a branch at a place \[m\], with the lump of a splice where there is one.
    pub fn diameter_at(&self, branch: BranchId, at: f64) -> f64 {
        if self.splices.iter().all(|splice| splice.branch != branch) {
            return self.branches[branch.0].diameter;
        }
        let here = self.girths(branch).into_iter().filter(|g| g.holds(at));
        2.0 * here.map(|girth| girth.radius).fold(0.0, f64::max)
    }
}

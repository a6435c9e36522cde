//! What makes a result weaker than it could be, in sentences.

use crate::rod::{Solution, drawn_through};
use crate::route::Route;

/// Relative error of a tightest radius from the discretisation above which the result is said to be weaker.
const COARSE: f64 = 0.005;

/// What makes the result weaker, each as a sentence: what reading the file found, branches that could not be resolved finely
/// enough, and spans that are drawn through a part.
pub fn warnings(route: &Route, solution: &Solution) -> Vec<String> {
    let solved = route.branches.iter().zip(&solution.branches);
    let coarse = solved.filter(|(_, solved)| solved.resolution.radius_error > COARSE);
    let mut warnings = route.warnings.clone();
    warnings.extend(coarse.map(|(branch, solved)| {
        format!(
            "branch \"{}\": its tightest radius may be off by {:.1} %, since the bend is sharper than the solver \
             resolves; trust the verdict, not the number",
            branch.name,
            100.0 * solved.resolution.radius_error
        )
    }));
    warnings.extend(drawn_through(route).into_iter().map(|drawn| {
        let branch = &route.branches[drawn.branch.0];
        format!(
            "branch \"{}\": its way from {} to {}, as drawn, runs through \"{}\"; nothing says on which side of that it \
             lies, and the nearest was taken; where that is wrong lead it past with a `Via`",
            branch.name,
            branch.lay[drawn.span].fixing.name,
            branch.lay[drawn.span + 1].fixing.name,
            route.machine.parts[drawn.part.0].name
        )
    }));
    warnings.extend(route.corners().into_iter().filter_map(|corners| {
        let names: Vec<&str> = corners
            .alone
            .iter()
            .map(|joint| route.machine.bodies[joint.0].name.as_str())
            .collect();
        (!names.is_empty()).then(|| {
            format!(
                "branch \"{}\": more than six moving bodies can reach it; \"{}\" is moved on its own only, not \
                 together with the others",
                route.branches[corners.branch.0].name,
                names.join("\", \"")
            )
        })
    }));
    warnings
}

//! One pose that no sweep holds: several joints off rest at a time, solved when the page asks for it.

use std::collections::HashMap;
use std::sync::Arc;
use std::time::Duration;

use serde::Deserialize;
use serde_json::Value;

use crate::machine::Joint;
use crate::rod::{self, Halting};
use crate::route::Route;

use super::ending::ended_after;
use super::session::{Session, settings};
use super::shapes;
use super::wrong::Wrong;

/// No pose takes longer.
const LONGEST: Duration = Duration::from_secs(60);

/// `?values={"steering":12.5,"seat":3}`: degrees and millimetres by body.
#[derive(Debug, Deserialize)]
pub(super) struct Values {
    values: String,
}

/// Where everything lies at these joint values.
pub(super) fn posed(
    session: &Session,
    wanted: &Values,
    halting: &Arc<Halting>,
) -> Result<Value, Wrong> {
    let values: HashMap<String, f64> = serde_json::from_str(&wanted.values)
        .map_err(|error| Wrong::asked(format!("`values` cannot be read: {error}")))?;
    let now = session.now()?;
    let (route, solution) = (now.route()?, now.solution()?);
    let joints = joints(&route, values)?;
    let found = {
        let _watched = ended_after(LONGEST, halting);
        rod::solve_pose(&route, &solution, &joints, &settings(halting))
    };
    if halting.halt().asked() {
        return Err(
            Wrong::cannot("this pose took more than a minute and was ended")
                .cure("move one joint at a time: those poses are solved already"),
        );
    }
    Ok(shapes::shapes(&route, &found, now.rev))
}

/// The value of every joint \[rad or m\]; those that are not named are at rest.
fn joints(route: &Route, values: HashMap<String, f64>) -> Result<Vec<f64>, Wrong> {
    let bodies = &route.machine.bodies;
    let mut joints = route.machine.rest();
    for (name, value) in values {
        let body = bodies.iter().position(|body| body.name == name);
        let body = body.ok_or_else(|| Wrong::asked(format!("no body \"{name}\" moves")))?;
        joints[body] = match bodies[body].joint {
            Joint::Turns { .. } => value.to_radians(),
            Joint::Fixed | Joint::Slides { .. } => value * 1e-3,
        };
    }
    Ok(joints)
}

//! Parts and joints.

use nalgebra::{Isometry3, Point3, Rotation3, UnitVector3, Vector3};

use crate::geometry::Shape;
use crate::machine::Joint;
use crate::read::tree::Node;

use super::lay::{SAME_DIRECTION, SAME_LENGTH};
use super::show::direction;
use super::{EditError, Editor, cannot};

impl<'a> Editor<'a> {
    pub(super) fn bodies(&mut self) -> Result<(), EditError> {
        for (was, is) in self
            .current
            .machine
            .bodies
            .iter()
            .zip(&self.target.machine.bodies)
        {
            if was.name != is.name || was.on != is.on {
                return Err(cannot("another set of bodies"));
            }
            if was.joint == is.joint {
                continue;
            }
            let map = self.root.field("bodies");
            let Some((_, node)) = map.and_then(|bodies| bodies.entry(&is.name)) else {
                return Err(cannot(format!("another joint of \"{}\"", is.name)));
            };
            self.joint(node, &was.joint, &is.joint)
                .ok_or_else(|| cannot(format!("another kind of joint of \"{}\"", is.name)))?;
        }
        Ok(())
    }

    fn joint(&mut self, node: &'a Node, was: &Joint, is: &Joint) -> Option<()> {
        match (was, is) {
            (
                Joint::Turns {
                    through: old_through,
                    axis: old_axis,
                    ..
                },
                Joint::Turns { through, axis, .. },
            ) => {
                if differ(old_through, through) {
                    let through = self.show.point(through);
                    self.script.set(node, "through", &through);
                }
                if turned(old_axis, axis) {
                    let field = format!("axis: {}", direction(axis));
                    self.script.set_instead(node, &["rake", "axis"], &field);
                }
            }
            (Joint::Slides { along: old, .. }, Joint::Slides { along, .. }) => {
                if turned(old, along) {
                    self.script.set(node, "along", &direction(along));
                }
            }
            _ => return None,
        }
        let ((old_from, old_to), (from, to)) = (was.stops(), is.stops());
        for (name, old, new) in [("from", old_from, from), ("to", old_to, to)] {
            if (old - new).abs() > SAME_LENGTH {
                let text = self.show.travel(is, new);
                self.script.set(node, name, &text);
            }
        }
        Some(())
    }

    pub(super) fn parts(&mut self) -> Result<(), EditError> {
        let (current, target) = (&self.current.machine.parts, &self.target.machine.parts);
        if current.len() != target.len() {
            return Err(cannot("another set of parts"));
        }
        let nodes = self.root.field("parts").map_or(&[][..], Node::items);
        for (was, is) in current.iter().zip(target) {
            let refuse = || cannot(format!("another shape of \"{}\"", is.name));
            let named = |node: &&Node| node.field("name").and_then(Node::text) == Some(&was.name);
            if was.name != is.name {
                return Err(cannot("another set of parts"));
            }
            let node = nodes
                .iter()
                .find(named)
                .and_then(|node| node.field("shape"));
            let node = node.ok_or_else(refuse)?;
            self.shape(node, &was.shape, &is.shape).ok_or_else(refuse)?;
        }
        Ok(())
    }

    fn point(&mut self, node: &'a Node, was: &Point3<f64>, is: &Point3<f64>) {
        if differ(was, is) {
            let new = self.with_comment(node, self.show.point(is));
            self.script.replace(node, new);
        }
    }

    fn shape(&mut self, node: &'a Node, was: &Shape, is: &Shape) -> Option<()> {
        match (was, is) {
            (Shape::Tube { along: old, .. }, Shape::Tube { along, .. }) => {
                let nodes = node.field("along")?.items();
                if nodes.len() != along.len() || old.len() != along.len() {
                    return None;
                }
                for (node, (old, new)) in nodes.iter().zip(old.iter().zip(along)) {
                    self.point(node, old, new);
                }
            }
            (Shape::Ball { centre: old, .. }, Shape::Ball { centre, .. }) => {
                self.point(node.field("centre")?, old, centre);
            }
            (
                Shape::Cylinder {
                    from: old_from,
                    to: old_to,
                    ..
                },
                Shape::Cylinder { from, to, .. },
            ) => {
                self.point(node.field("from")?, old_from, from);
                self.point(node.field("to")?, old_to, to);
            }
            (
                Shape::Block {
                    centre: old,
                    turned: old_turned,
                    ..
                },
                Shape::Block {
                    centre,
                    turned,
                    size,
                },
            ) => {
                if old_turned.angle_to(turned) <= SAME_DIRECTION {
                    self.point(node.field("centre")?, old, centre);
                } else {
                    let slab = self.slab(centre, turned, size);
                    self.script.replace(node, slab);
                }
            }
            (Shape::Scan(old), Shape::Scan(new)) => {
                let motion = new.placed * old.placed.inverse();
                let still = motion.translation.vector.norm() <= SAME_LENGTH
                    && motion.rotation.angle() <= SAME_LENGTH;
                if !still {
                    self.scan(node, &new.placed)?;
                }
            }
            _ => return None,
        }
        Some(())
    }

    /// A box that does not stand along the axes.
    fn slab(&self, centre: &Point3<f64>, turned: &Rotation3<f64>, size: &Vector3<f64>) -> String {
        let axis = |i: usize| UnitVector3::new_normalize(turned.matrix().column(i).into_owned());
        let [length, width, thickness] = [size.x, size.y, size.z].map(|s| self.show.length(s));
        format!(
            "Slab(centre: {}, normal: {}, along: {}, size: ({length}, {width}, {thickness}))",
            self.show.point(centre),
            direction(&axis(2)),
            direction(&axis(0)),
        )
    }

    /// A scan is placed by pairs of points: four that say where it stands now.
    fn scan(&mut self, node: &'a Node, placed: &Isometry3<f64>) -> Option<()> {
        let unit = match node
            .field("unit")
            .map(|unit| unit.text().unwrap_or(unit.kind()))?
        {
            "mm" => 1e-3,
            "cm" => 1e-2,
            "m" => 1.0,
            "in" => 0.0254,
            "ft" => 0.3048,
            _ => return None,
        };
        let corners = [[0.0; 3], [0.1, 0.0, 0.0], [0.0, 0.1, 0.0], [0.0, 0.0, 0.1]];
        let pairs = corners.map(|corner| {
            let [x, y, z] = corner.map(|c| super::show::number(c / unit, 9));
            let machine = self.show.point(&(placed * Point3::from(corner)));
            format!("(({x}, {y}, {z}), {machine})")
        });
        let field = format!(
            "placed: [{}] /* where it stood, then moved */",
            pairs.join(", ")
        );
        self.script.set_instead(node, &["placed", "up"], &field);
        Some(())
    }
}

fn differ(a: &Point3<f64>, b: &Point3<f64>) -> bool {
    (a - b).norm() > SAME_LENGTH
}

fn turned(a: &UnitVector3<f64>, b: &UnitVector3<f64>) -> bool {
    (a.into_inner() - b.into_inner()).norm() > SAME_DIRECTION
}

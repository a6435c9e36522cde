//! What pulls length through a hole that a strand slides through.

use super::contact::Contacts;
use super::strand::{State, Strand};

impl Strand {
    /// Pulls \[N\] that would draw length out of span `span` through a hole at its start, and through one at its end: less
    /// the derivative of its energy by its length, where what comes in comes in at the height of the hole.
    pub(super) fn pulls(
        &self,
        state: &State,
        contacts: Option<&Contacts<'_>>,
        span: usize,
    ) -> [f64; 2] {
        let by = self.by_length(state, contacts, span);
        [span, span + 1].map(|fixing| {
            let hole = &state.nodes[self.fixings[fixing]].r;
            -by - self.material.weight.dot(hole)
        })
    }

    /// Derivative of the energy by the unstretched length of span `span`, shared evenly by its elements \[N\]; heights
    /// count from the origin.
    fn by_length(&self, state: &State, contacts: Option<&Contacts<'_>>, span: usize) -> f64 {
        let (first, last) = (self.fixings[span], self.fixings[span + 1]);
        let length = self.at[last] - self.at[first];
        let mut by = 0.0;
        for j in first..last {
            let element = self.element(state, j);
            let mut own = element.by_length(&self.material);
            if let Some(contacts) = contacts.filter(|c| c.touches(j)) {
                own += contacts.by_length(j, self.at[j], &element);
            }
            by += self.h(j) / length * own;
        }
        let softness = self.compliance.map_or(0.0, |c| c / self.length());
        by - 0.5 * state.moment * state.moment * softness
    }
}

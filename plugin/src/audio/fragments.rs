//! Partly covered hops, remembered for a while: where one run ends in mid hop and another begins
//! or ends at the same frame, the two make the whole hop, in whatever order they were played.

use super::part::Part;
use super::recorder::Destination;

/// Fragments remembered. Own choice: more seams than anybody plays around at a time.
const KEPT: usize = 16;

/// The covered part of one hop.
#[derive(Clone, Copy)]
pub(super) struct Fragment {
    pub to: Destination,
    pub playthrough: u32,
    /// First frame covered.
    pub start_frame: i64,
    /// One past the last frame covered.
    pub end_frame: i64,
    pub hop: i32,
    pub part: Part,
}

/// The latest fragments.
#[derive(Default)]
pub(super) struct Fragments {
    kept: [Option<Fragment>; KEPT],
    next: usize,
}

impl Fragments {
    /// Adds what is remembered on either side of `fragment` in the same hop, and remembers the
    /// outcome. `forgotten` tells playthroughs that a reset has forgotten.
    pub fn join(&mut self, mut fragment: Fragment, forgotten: impl Fn(u32) -> bool) -> Fragment {
        for slot in &mut self.kept {
            let adjoins = slot.as_ref().is_some_and(|other| {
                other.to == fragment.to
                    && other.hop == fragment.hop
                    && !forgotten(other.playthrough)
                    && (other.end_frame == fragment.start_frame
                        || other.start_frame == fragment.end_frame)
            });
            if adjoins && let Some(other) = slot.take() {
                fragment.part.join(&other.part);
                fragment.start_frame = fragment.start_frame.min(other.start_frame);
                fragment.end_frame = fragment.end_frame.max(other.end_frame);
            }
        }
        if let Some(slot) = self.kept.get_mut(self.next) {
            *slot = Some(fragment);
        }
        self.next = (self.next + 1) % KEPT;
        fragment
    }
}

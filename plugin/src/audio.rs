//! From the host's blocks to hops of song time: meters in, record out. Runs on the audio thread.
//!
//! ```text
//! host position -> Clock (own frame counter, jumps) \
//! block of audio ------------------------------------> Recorder -> record (song or live)
//!                                                               |-> recent hops (this moment)
//!                                                               \-> queue -> tone by second
//! ```
//!
//! A second port with a reference on it goes the same way, into a record of its own
//! ([`ReferenceInput`]).

mod clock;
mod fragments;
mod momentary_rise;
mod offline;
mod part;
mod recorder;
mod reference_input;
mod status;
mod tone;

pub use clock::{Clock, HostPosition, Step};
pub use offline::{Feed, HopStream, WARM_UP_HOPS};
pub use recorder::{Outputs, Recorder, Sources};
pub use reference_input::{InputStatus, ReferenceInput};
pub use status::{BarPosition, Status, Transport};
pub use tone::ToneWork;

use crate::meters::Effort;
use crate::meters::layout::Layout;
use crate::record::RecordReader;
use crate::units::SampleRate;
use std::sync::Arc;

/// Measures `channels` (planar, equal lengths) as a playthrough from song time zero to the end:
/// the direct path, the same code as in the plugin without a host.
#[must_use]
pub fn measure(channels: &[&[f32]], rate: SampleRate, layout: Layout) -> RecordReader {
    measure_with(Effort::Least, channels, rate, layout)
}

fn measure_with(
    effort: Effort,
    channels: &[&[f32]],
    rate: SampleRate,
    layout: Layout,
) -> RecordReader {
    const BLOCK_FRAMES: usize = 4_096;
    let (outputs, sources) = Outputs::new(layout, false);
    let mut recorder =
        Recorder::new(rate, outputs, Arc::new(Status::default())).with_effort(effort);
    let len_frames = channels.iter().map(|channel| channel.len()).min().unwrap_or(0);
    let mut at = 0;
    let mut block: Vec<&[f32]> = Vec::with_capacity(channels.len());
    while at < len_frames {
        let end = (at + BLOCK_FRAMES).min(len_frames);
        block.clear();
        block.extend(channels.iter().filter_map(|channel| channel.get(at..end)));
        #[expect(clippy::cast_precision_loss, reason = "frame counts stay far below 2^52")]
        let seconds = at as f64 / f64::from(rate.hz());
        let position =
            HostPosition { playing: true, seconds: Some(seconds), ..HostPosition::default() };
        recorder.process(&block, &position);
        at = end;
    }
    recorder.stop();
    sources.song
}

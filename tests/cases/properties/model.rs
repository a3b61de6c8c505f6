//! What must stand in the record after a script: worked out from where the transport was alone,
//! without a meter.
//!
//! A hop that a run met as a whole, with the song on both sides as far as the interpolator reaches,
//! must hold that run's version, whatever was there before. Declared seams are the hops where a run
//! begins or ends: they never take the place of such a hop. Where there is none, either side may
//! stand, or, where no run met the whole of it, neither; and no true peak is higher than the song's.

use super::memory::largest_error;
use plimsoll::meters::Meters;
use plimsoll::meters::layout::Layout;
use plimsoll::record::{Hop, RecordReader, first_frame_of_hop, hop_of_frame};
use plimsoll::units::SampleRate;
use std::collections::BTreeMap;

/// What may stand at one hop.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Expected {
    /// A run met all of it.
    pub is_whole: bool,
    /// The versions that may stand there, as heard by one run.
    pub versions: Vec<usize>,
    /// No seam: one version, and its peaks have the song on both sides.
    pub is_clean: bool,
    /// A part of it was heard and may stand there, joined to others or alone.
    pub is_pieced: bool,
    /// True peaks may be higher than the song's: there was silence before or after, or another
    /// version in the same run.
    pub may_ring: bool,
    /// How long before the hop the run began that left what may stand there, in s; the least where
    /// several may. Infinite from song time zero on, before which there is nothing to remember.
    pub run_s: f64,
}

/// What stands before or after a stretch that was heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Border {
    /// Something that was not heard: a jump, a pause.
    Unknown,
    /// Silence: the transport stands, audio stops.
    Silence,
    /// The same run, with another version: the recorder knows of no seam.
    GoesOn,
}

struct Run {
    version: usize,
    begins: Border,
    /// Where the filter was at rest.
    cold_frame: i64,
    /// From here on it counts.
    start_frame: i64,
    end_frame: i64,
}

/// Follows the transport.
pub struct Model {
    rate: SampleRate,
    reach_frames: i64,
    /// Blocks are not measured.
    pub is_deaf: bool,
    /// Nothing but silence stands before frame 0.
    pub starts_silent: bool,
    /// What stands before a run that follows on silence: not known where song time is, else what
    /// was heard, which is that silence.
    pub after_silence: Border,
    last: Border,
    run: Option<Run>,
    hops: BTreeMap<i32, Expected>,
}

impl Model {
    pub fn new(rate_hz: u32) -> Self {
        let rate = SampleRate::new(rate_hz).unwrap();
        let reach_frames = Meters::new(rate, Layout::Mono).latency_frames() as i64;
        Self {
            rate,
            reach_frames,
            is_deaf: false,
            starts_silent: true,
            after_silence: Border::Unknown,
            last: Border::Silence,
            run: None,
            hops: BTreeMap::new(),
        }
    }

    /// A block of `version` from `song_frame` on; `None` while the transport stands.
    pub fn hear(&mut self, version: usize, song_frame: Option<i64>, len_frames: usize) {
        let Some(start_frame) = song_frame else {
            self.end_run(Border::Silence);
            return;
        };
        let end_frame = start_frame + len_frames as i64;
        if let Some(run) = &mut self.run {
            let goes_on = run.end_frame == start_frame;
            if goes_on && run.version == version {
                run.end_frame = end_frame;
                return;
            }
            self.end_run(if goes_on { Border::GoesOn } else { Border::Unknown });
        }
        let begins = if self.last == Border::Silence { self.after_silence } else { self.last };
        // After another version the filter remembers what it ought not, instead of nothing.
        let cold_frame = start_frame;
        self.run = Some(Run { version, begins, cold_frame, start_frame, end_frame });
    }

    /// The present run, if there is one, ends here.
    pub fn end_run(&mut self, ends: Border) {
        self.last = ends;
        let Some(run) = self.run.take().filter(|_| !self.is_deaf) else { return };
        let [first, last] =
            [run.start_frame, run.end_frame - 1].map(|frame| hop_of_frame(frame, self.rate));
        for index in first..=last {
            self.leave(&run, ends, index);
        }
    }

    fn leave(&mut self, run: &Run, ends: Border, index: i32) {
        let start = first_frame_of_hop(index, self.rate);
        let end = first_frame_of_hop(index + 1, self.rate);
        let is_whole = run.start_frame <= start && end <= run.end_frame;
        // Silence is what stood before song time zero.
        let from_zero = run.cold_frame <= 0 && self.starts_silent;
        let near = [
            (start < run.start_frame + self.reach_frames && !from_zero).then_some(run.begins),
            (end + self.reach_frames > run.end_frame).then_some(ends),
        ];
        let run_s = if from_zero {
            f64::INFINITY
        } else {
            (start - run.cold_frame) as f64 / f64::from(self.rate.hz())
        };
        let expected = self.hops.entry(index).or_insert(Expected { run_s, ..Expected::default() });
        if is_whole && near == [None; 2] {
            *expected = Expected {
                is_whole,
                is_clean: true,
                versions: vec![run.version],
                run_s,
                ..Expected::default()
            };
            return;
        }
        let is_seam = !near.contains(&Some(Border::GoesOn));
        if expected.is_clean && is_seam {
            return;
        }
        expected.is_clean = false;
        expected.is_pieced |= !is_whole;
        expected.is_whole |= is_whole;
        expected.may_ring |= !is_seam || near.contains(&Some(Border::Silence));
        if is_whole {
            expected.run_s = expected.run_s.min(run_s);
            if !expected.versions.contains(&run.version) {
                expected.versions.push(run.version);
            }
        }
    }

    /// All that was heard is forgotten from hop `end_hop` on, the hop that is being heard too.
    pub fn forget_from(&mut self, end_hop: i32) {
        let Some(run) = self.run.take() else {
            self.hops.split_off(&end_hop);
            return;
        };
        let (version, cold_frame, end_frame) = (run.version, run.cold_frame, run.end_frame);
        self.run = Some(run);
        self.end_run(Border::GoesOn);
        self.hops.split_off(&end_hop);
        // What is heard goes on: from the next hop on it counts, without a cold start. Whether the
        // hop that is cut here counts depends on where it lies.
        let next = hop_of_frame(end_frame - 1, self.rate) + 1;
        self.run = Some(Run {
            version,
            begins: Border::GoesOn,
            cold_frame,
            start_frame: first_frame_of_hop(next, self.rate),
            end_frame,
        });
        self.half_heard(next - 1);
        self.half_heard(next);
    }

    /// A part of hop `index` may stand there.
    fn half_heard(&mut self, index: i32) {
        let expected = self.hops.entry(index).or_default();
        expected.is_clean = false;
        expected.is_pieced = true;
        expected.may_ring = true;
    }

    /// Compares `record` with what each version's record holds when it is played once. Returns how
    /// many hops had to be the same in everything.
    pub fn compare(
        &self,
        record: &RecordReader,
        played_once: &[RecordReader],
        hops: std::ops::Range<i32>,
    ) -> Result<usize, String> {
        let mut compared = 0;
        for index in hops {
            let found = record.hop(index);
            let fail = |why: String| {
                let expected = self.hops.get(&index);
                Err(format!("hop {index}: {why}\n  expected {expected:?}\n  found {found:?}"))
            };
            let Some(expected) = self.hops.get(&index) else {
                if found.is_some() {
                    return fail("was never heard".to_owned());
                }
                continue;
            };
            if let Some(hop) = &found
                && !is_sane(hop)
            {
                return fail("is no measurement".to_owned());
            }
            if !expected.is_whole {
                continue;
            }
            let Some(hop) = found.filter(|hop| hop.full) else {
                return fail("was heard as a whole".to_owned());
            };
            if expected.is_pieced {
                continue;
            }
            let why: Vec<String> = expected
                .versions
                .iter()
                .filter_map(|&version| {
                    let once = played_once[version].hop(index).expect("played to the end");
                    difference(&hop, &once, expected)
                })
                .collect();
            if why.len() == expected.versions.len() {
                return fail(format!("{why:?}"));
            }
            compared += usize::from(expected.is_clean);
        }
        Ok(compared)
    }

    /// Whether every hop of `hops` was met as a whole, or in pieces that make the whole.
    pub fn was_heard(&self, hops: std::ops::Range<i32>) -> bool {
        hops.into_iter().all(|index| self.hops.contains_key(&index))
    }
}

fn is_sane(hop: &Hop) -> bool {
    let peaks = hop.sample_peaks.iter().chain(&hop.true_peaks);
    hop.energy.is_finite()
        && hop.energy >= 0.0
        && hop.frames > 0
        && peaks.into_iter().all(|peak| peak.is_finite() && *peak >= 0.0)
}

/// What differs, if it is more than may be.
fn difference(hop: &Hop, once: &Hop, expected: &Expected) -> Option<String> {
    // All that rests on the samples of the hop alone has the same bits.
    let own = |hop: &Hop| {
        let sums = [hop.left_mean_square, hop.right_mean_square, hop.left_right_mean];
        let counts = [hop.frames, hop.clipped, hop.scrubbed];
        (sums.map(f32::to_bits), counts, hop.sample_peaks.map(f32::to_bits))
    };
    if own(hop) != own(once) {
        return Some(format!("differs from {once:?}"));
    }
    let mut peaks = hop.true_peaks.iter().zip(once.true_peaks);
    if expected.is_clean && !peaks.clone().all(|(peak, once)| *peak == once)
        || !expected.may_ring && !peaks.all(|(peak, once)| *peak <= once)
    {
        return Some(format!("true peaks are {:?}", once.true_peaks));
    }
    if expected.is_clean && hop.edge {
        return Some("stands at no edge".to_owned());
    }
    // √E is a norm of the weighted sound, so that it differs by the norm of the difference at
    // most: two channels of samples up to 1, of which another version may have been heard before.
    let memory = 2.0 * 2.0_f64.sqrt() * largest_error(expected.run_s);
    let [found, exact] = [hop, once].map(|hop| f64::from(hop.energy).sqrt());
    // Single precision, twice.
    let rounding = exact * 2.0_f64.powi(-23);
    if (found - exact).abs() > memory + rounding {
        return Some(format!("energy is {}, off by more than {memory}", once.energy));
    }
    None
}

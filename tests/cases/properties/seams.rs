//! A song split anywhere and played in halves, in whatever order, leaves the record of the whole,
//! but for the filter's memory at the seam: what it does to any figure is worked out here from the
//! standard's own filter and the sound before the seam, and no figure may be off by more.

use super::model::{Border, Model};
use plimsoll::loudness::{Analysis, Figures, MOMENTARY_HOPS, SHORT_TERM_HOPS};
use plimsoll::record::RecordReader;
use plimsoll::units::Lufs;
use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::noise::{Rng, even_song};
use plimsoll_tests::oracle::k_filter;
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells};

const RATE_HZ: u32 = 48_000;
const HOP_FRAMES: usize = 480;
const LEN_HOPS: i32 = 2_000;

/// Hops after the seam that may feel it: the half second.
const FELT_HOPS: usize = 50;

/// Near a seam M within hops is not looked for: what that can miss, LU (DEVELOPERS, "Momentary
/// maxima between hops"): 10·log10(40/39.5).
const BETWEEN_HOPS_LU: f64 = 0.055;

/// Plays `song` in two runs, cut at `cut`.
fn in_halves(song: &Audio, cut: usize, second_first: bool) -> (Direct, Model) {
    let mut direct = Direct::new(RATE_HZ, 2, 512);
    let mut model = Model::new(RATE_HZ);
    let mut halves = [(0, cut), (cut, song.len_frames())];
    if second_first {
        halves.reverse();
    }
    for (start, end) in halves {
        let len_frames = end - start;
        let steps = [
            Step::Locate { frame: start as i64 },
            Step::Play { len_frames },
            Step::Stand { len_frames: 4_800 },
        ];
        direct.run(song, &steps, &Telling::new(Tells::Everything), &Blocks::Fixed(512));
        model.hear(0, Some(start as i64), len_frames);
        model.end_run(Border::Silence);
    }
    direct.stop();
    (direct, model)
}

/// For each hop from that of the cut on, √ of the weighted mean square of what the filter still
/// gives of the sound before the cut: what a cold start lacks, by the printed tables.
fn lacking(song: &Audio, cut: usize) -> Vec<f64> {
    let first_hop_frame = cut - cut % HOP_FRAMES;
    let mut energies = vec![0.0; FELT_HOPS];
    for channel in &song.channels {
        // One second is more than it remembers.
        let mut before = channel[cut.saturating_sub(RATE_HZ as usize)..cut].to_vec();
        let start = before.len();
        before.resize(start + (FELT_HOPS + 1) * HOP_FRAMES, 0.0);
        let rings = k_filter::weigh(RATE_HZ, &before);
        for (n, y) in rings[start..].iter().enumerate() {
            if let Some(energy) = energies.get_mut((cut + n - first_hop_frame) / HOP_FRAMES) {
                *energy += y * y / HOP_FRAMES as f64;
            }
        }
    }
    energies.into_iter().map(f64::sqrt).collect()
}

/// By how much the energy of each hop from that of the cut on can be off.
///
/// With y the sound as the filter gives it and d what is lacking, the energy of y − d is that of
/// y, less twice their product, and that of d; the product is at most that of their norms.
struct Errors {
    first_hop: i32,
    energies: Vec<f64>,
}

impl Errors {
    fn new(once: &RecordReader, song: &Audio, cut: usize) -> Self {
        let first_hop = (cut / HOP_FRAMES) as i32;
        let energies = (first_hop..)
            .zip(lacking(song, cut))
            .map(|(hop, lacking)| {
                let norm = f64::from(once.hop(hop).unwrap().energy).sqrt();
                (2.0 * norm + lacking) * lacking
            })
            .collect();
        Self { first_hop, energies }
    }

    /// Of the mean energy of the `len` hops that end with `end`.
    fn of_window(&self, end: i32, len: usize) -> f64 {
        let hops = (end + 1 - len as i32..=end).map(|hop| hop - self.first_hop);
        let hops = hops.filter_map(|index| self.energies.get(usize::try_from(index).ok()?));
        hops.sum::<f64>() / len as f64
    }
}

/// Largest error, LU, of `lufs` if its energy is off by `error`.
fn error_lu(lufs: Lufs, error: f64) -> f64 {
    let share = error / lufs.to_energy();
    assert!(share < 1.0, "more may be lacking than there is");
    // Single precision comes on top.
    -10.0 * (1.0 - share).log10() + 1e-6
}

#[derive(Debug, Default)]
struct Bounds {
    momentary_lu: f64,
    short_term_lu: f64,
    integrated_lu: f64,
}

/// How far the figures may be off.
fn bounds(once: &mut Analysis, errors: &Errors) -> Bounds {
    let mut bounds = Bounds::default();
    for hop in 0..LEN_HOPS {
        if let Some(lufs) = once.momentary(hop) {
            let error = error_lu(lufs, errors.of_window(hop, MOMENTARY_HOPS));
            bounds.momentary_lu = bounds.momentary_lu.max(error);
        }
        if let Some(lufs) = once.short_term(hop) {
            let error = error_lu(lufs, errors.of_window(hop, SHORT_TERM_HOPS));
            bounds.short_term_lu = bounds.short_term_lu.max(error);
        }
    }
    let ends = (MOMENTARY_HOPS as i32 - 1..LEN_HOPS).step_by(10);
    let integrated = once.song_figures().integrated.unwrap();
    let mut sum = 0.0;
    for end in ends.clone() {
        // No block is so near to a gate that it could be tipped over.
        let lufs = once.momentary(end).unwrap().0 - bounds.momentary_lu;
        assert!(lufs > -70.0 && lufs > integrated.0 - 10.0 + bounds.momentary_lu);
        sum += errors.of_window(end, MOMENTARY_HOPS);
    }
    bounds.integrated_lu = error_lu(integrated, sum / ends.count() as f64);
    bounds
}

fn assert_figures_within(figures: &Figures, once: &Figures, bounds: &Bounds, what: &str) {
    let lufs = |lufs: Option<Lufs>| lufs.unwrap().0;
    let check = |name: &str, off_lu: f64, below_lu: f64, above_lu: f64| {
        assert!((-below_lu..=above_lu).contains(&off_lu), "{what}: {name} is off by {off_lu} LU");
    };
    let Bounds { momentary_lu, short_term_lu, integrated_lu } = *bounds;
    let off = lufs(figures.integrated) - lufs(once.integrated);
    check("integrated", off, integrated_lu, integrated_lu);
    let off = lufs(figures.max_momentary) - lufs(once.max_momentary);
    check("maximum M", off, momentary_lu + BETWEEN_HOPS_LU, momentary_lu);
    let off = lufs(figures.max_short_term) - lufs(once.max_short_term);
    check("maximum S", off, short_term_lu, short_term_lu);
    // A difference of two short-term values.
    let range = |figures: &Figures| figures.loudness_range.unwrap().0;
    check("LRA", range(figures) - range(once), 2.0 * short_term_lu, 2.0 * short_term_lu);
    assert_eq!(figures.sample_peak, once.sample_peak, "{what}");
    assert_eq!(figures.coverage, once.coverage, "{what}");
    assert_eq!(figures.frames, once.frames, "{what}");
    assert_eq!(figures.scrubbed_samples, once.scrubbed_samples, "{what}");
}

/// Windows over the seam are formed, and each is off by what is lacking in its hops at most.
/// Returns by how much M and S are off at most, LU.
fn windows_off_lu(once: &Analysis, halves: &Analysis, errors: &Errors) -> [f64; 2] {
    let off = |read: fn(&Analysis, i32) -> Option<Lufs>, len: usize| {
        let mut largest = 0.0_f64;
        for end in errors.first_hop..errors.first_hop + len as i32 + 10 {
            let [whole, pieced] = [once, halves].map(|analysis| read(analysis, end));
            let (Some(whole), Some(pieced)) = (whole, pieced) else {
                // Shorter than a window before it, or behind the song.
                assert_eq!(whole, pieced);
                continue;
            };
            let off_lu = (pieced.0 - whole.0).abs();
            let bound_lu = error_lu(whole, errors.of_window(end, len));
            assert!(off_lu <= bound_lu, "{end}: {off_lu} LU, {bound_lu} allowed");
            largest = largest.max(off_lu);
        }
        largest
    };
    [off(Analysis::momentary, MOMENTARY_HOPS), off(Analysis::short_term, SHORT_TERM_HOPS)]
}

/// Tolerance of M and S, LU (EBU Tech 3341, Table 1): what a seam may cost at most.
const WINDOW_LU: f64 = 0.1;
/// What it may cost the integrated loudness of so short a song, LU: the project's own figure for
/// one tone at all rates.
const INTEGRATED_LU: f64 = 0.01;

#[test]
fn a_song_split_anywhere_and_played_in_any_order_is_the_whole_but_for_the_filters_memory() {
    let mut rng = Rng::new(91);
    let (mut largest, mut proven) = (Bounds::default(), Bounds::default());
    for seed in 0..6 {
        let song = even_song(seed + 900, RATE_HZ, f64::from(LEN_HOPS) / 100.0);
        let once = Direct::measure(&song);
        let played_once = [once.sources().song.clone()];
        let exact = once.analysis().song_figures();
        for _ in 0..4 {
            let mut cut = rng.between(RATE_HZ as usize, song.len_frames() - RATE_HZ as usize);
            if rng.between(0, 1) == 0 {
                cut -= cut % HOP_FRAMES;
            }
            let what = format!("song {seed}, cut at frame {cut}");
            let errors = Errors::new(&played_once[0], &song, cut);
            let bounds = bounds(&mut once.analysis(), &errors);
            for second_first in [false, true] {
                let (direct, model) = in_halves(&song, cut, second_first);
                let record = &direct.sources().song;
                let compared = model.compare(record, &played_once, 0..LEN_HOPS - 1);
                // All but three at the seam and the last.
                let compared = compared.unwrap_or_else(|why| panic!("{what}: {why}"));
                assert!(compared >= LEN_HOPS as usize - 5, "{what}: {compared}");
                assert!((0..LEN_HOPS).all(|hop| record.hop(hop).is_some_and(|hop| hop.full)));
                let mut halves = direct.analysis();
                let [m, s] = windows_off_lu(&once.analysis(), &halves, &errors);
                let figures = halves.song_figures();
                assert_figures_within(&figures, &exact, &bounds, &what);
                largest.momentary_lu = largest.momentary_lu.max(m);
                largest.short_term_lu = largest.short_term_lu.max(s);
                let off = figures.integrated.unwrap().0 - exact.integrated.unwrap().0;
                largest.integrated_lu = largest.integrated_lu.max(off.abs());
            }
            proven.momentary_lu = proven.momentary_lu.max(bounds.momentary_lu);
            proven.short_term_lu = proven.short_term_lu.max(bounds.short_term_lu);
            proven.integrated_lu = proven.integrated_lu.max(bounds.integrated_lu);
        }
    }
    println!("off by at most {largest:?}, which is proven to be at most {proven:?}");
    assert!(largest.momentary_lu <= WINDOW_LU && largest.short_term_lu <= WINDOW_LU);
    assert!(largest.integrated_lu <= INTEGRATED_LU);
    // The seams are there: the bounds were put to the test.
    assert!(largest.momentary_lu > 1e-3 && largest.integrated_lu > 1e-6);
}

//! K-weighted energy and unweighted sums of channels side by side.
//!
//! Per channel u\[n\] = shelf(x)\[n\], y\[n\] = high-pass(u)\[n\] (ITU-R BS.1770-5, Annex 1, Tables 1
//! and 2, see `k_weighting.rs`), then Σ y², Σ x² and, of two channels, Σ x·x'. Every sum runs frame
//! by frame and every operation is elementwise, so that a channel has the same bits whatever stands
//! beside it and however the frames were cut into blocks.

use super::dispatch::Instructions;
#[cfg(target_arch = "x86_64")]
use super::dispatch::Wide;
use super::k_weighting::Biquad;
use super::notes::MOST;

/// Filter memory below this magnitude is set to zero at the end of a hop, long before it could
/// become subnormal. Own choice, no source.
const FLUSH: f64 = 1e-30;

/// One value for each of two channels.
type Two = [f64; 2];

/// The memory and the sums of channels side by side: two, or four or eight in the same number of
/// turns, where a turn waits for the results of the one before. The compiler keeps each value in one
/// vector register.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Filter<const N: usize> {
    /// x\[n−1\], x\[n−2\]: the samples.
    pub heard: [[f64; N]; 2],
    /// u\[n−1\], u\[n−2\]: after the shelf.
    pub shelved: [[f64; N]; 2],
    /// y\[n−1\], y\[n−2\]: after the high-pass.
    pub weighted: [[f64; N]; 2],
    /// Σ y².
    pub weighted_square_sum: [f64; N],
    /// Σ x².
    pub square_sum: [f64; N],
    /// Σ of the product of a channel and its neighbour.
    pub product_sum: [f64; N],
}

/// k·v + acc, rounded once where `FMA` and twice where not.
#[inline(always)]
#[allow(clippy::indexing_slicing, reason = "within the arrays' length")]
fn multiply_add<const FMA: bool, const N: usize>(
    k: [f64; N],
    v: [f64; N],
    acc: [f64; N],
) -> [f64; N] {
    let mut sum = [0.0; N];
    for i in 0..N {
        sum[i] = if FMA { k[i].mul_add(v[i], acc[i]) } else { k[i] * v[i] + acc[i] };
    }
    sum
}

/// Each channel's neighbour of its pair.
#[inline(always)]
fn swapped<const N: usize>(mut x: [f64; N]) -> [f64; N] {
    for [a, b] in x.as_chunks_mut::<2>().0 {
        (*a, *b) = (*b, *a);
    }
    x
}

/// Both stages with their gains taken out, which leaves 1 before x\[n\] in the shelf and 1, −2, 1 in
/// the high-pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Factors {
    pub b1: f64,
    pub b2: f64,
    /// −a1 and −a2 of the shelf.
    pub shelf: [f64; 2],
    /// −a1 and −a2 of the high-pass.
    pub high_pass: [f64; 2],
    /// What Σ y² must be multiplied by: the square of the gains.
    pub square_gain: f64,
}

impl Factors {
    /// Those of a shelf and a high-pass whose b is \[g, −2·g, g\].
    pub fn new([head, high_pass]: &[Biquad; 2]) -> Self {
        Self {
            b1: head.b1 / head.b0,
            b2: head.b2 / head.b0,
            shelf: [-head.a1, -head.a2],
            high_pass: [-high_pass.a1, -high_pass.a2],
            square_gain: (head.b0 * high_pass.b0).powi(2),
        }
    }
}

impl<const N: usize> Filter<N> {
    /// Silence before, nothing summed.
    pub const NEW: Self = Self {
        heard: [[0.0; N]; 2],
        shelved: [[0.0; N]; 2],
        weighted: [[0.0; N]; 2],
        weighted_square_sum: [0.0; N],
        square_sum: [0.0; N],
        product_sum: [0.0; N],
    };

    /// Adds the frames of `channels`, of unequal lengths as many as the shortest has, and notes in
    /// `noted` what Σ y² is after each of `ends`. `interleave` turns channels into `frames`, whose
    /// content before does not matter, `add` adds frames.
    fn run(
        &mut self,
        channels: [&[f32]; N],
        ends: &[usize],
        noted: &mut [[f64; N]; MOST],
        frames: &mut [[f32; N]; TURN_FRAMES],
        interleave: impl Fn([&[f32]; N], &mut [[f32; N]]),
        add: impl Fn(&mut Self, &[[f32; N]]),
    ) {
        let len_frames = channels.iter().map(|channel| channel.len()).min().unwrap_or(0);
        let mut notes = ends.iter().zip(noted).peekable();
        let mut done = 0;
        while done < len_frames {
            let len = TURN_FRAMES.min(len_frames - done);
            let turn = frames.get_mut(..len).unwrap_or_default();
            let late = channels.map(|channel| channel.get(done..done + len).unwrap_or_default());
            interleave(late, turn);
            let mut from = 0;
            while from < len {
                let end = notes.peek().map_or(len, |(end, _)| len.min(end.saturating_sub(done)));
                let end = end.max(from);
                add(self, turn.get(from..end).unwrap_or_default());
                from = end;
                while let Some((_, noted)) = notes.next_if(|(end, _)| **end <= done + from) {
                    *noted = self.weighted_square_sum;
                }
            }
            done += len;
        }
    }

    /// Adds frames: on any machine, and what the loops in `loops.rs` are held to. Inlined, to be
    /// compiled for the instructions of the caller.
    #[inline(always)]
    pub fn add_plain<const FMA: bool>(&mut self, factors: &Factors, frames: &[[f32; N]]) {
        // A copy that nothing else can see stays in registers.
        let mut filter = *self;
        for frame in frames {
            filter.add::<FMA>(factors, frame);
        }
        *self = filter;
    }

    /// Adds a frame.
    #[inline(always)]
    #[allow(clippy::indexing_slicing, reason = "within the arrays' length")]
    fn add<const FMA: bool>(&mut self, factors: &Factors, frame: &[f32; N]) {
        let x = frame.map(f64::from);
        let [x1, x2] = self.heard;
        let [u1, u2] = self.shelved;
        let [y1, y2] = self.weighted;
        let u = multiply_add::<FMA, N>([factors.b1; N], x1, x);
        let u = multiply_add::<FMA, N>([factors.b2; N], x2, u);
        // The newest output is added last: it is what the next frame waits for.
        let u = multiply_add::<FMA, N>([factors.shelf[1]; N], u2, u);
        let u = multiply_add::<FMA, N>([factors.shelf[0]; N], u1, u);
        // The high-pass's 1, −2, 1: the difference of two steps, which needs no product.
        let mut bend = [0.0; N];
        for i in 0..N {
            bend[i] = (u[i] - u1[i]) - (u1[i] - u2[i]);
        }
        let y = multiply_add::<FMA, N>([factors.high_pass[1]; N], y2, bend);
        let y = multiply_add::<FMA, N>([factors.high_pass[0]; N], y1, y);
        self.heard = [x, x1];
        self.shelved = [u, u1];
        self.weighted = [y, y1];
        self.weighted_square_sum = multiply_add::<FMA, N>(y, y, self.weighted_square_sum);
        self.square_sum = multiply_add::<FMA, N>(x, x, self.square_sum);
        self.product_sum = multiply_add::<FMA, N>(x, swapped(x), self.product_sum);
    }
}

/// Some values of one place of every pair.
#[inline(always)]
fn side_by_side<const P: usize, const N: usize>(
    pairs: &[&mut PairSums; P],
    value: impl Fn(&Filter<2>) -> Two,
) -> [f64; N] {
    let mut joined = [0.0; N];
    for (joined, pair) in joined.as_chunks_mut().0.iter_mut().zip(pairs) {
        *joined = value(&pair.filter);
    }
    joined
}

impl<const N: usize> Filter<N> {
    /// P pairs of channels side by side, N = 2·P.
    #[inline(always)]
    fn joined<const P: usize>(pairs: &[&mut PairSums; P]) -> Self {
        let both = |of: fn(&Filter<2>) -> [Two; 2]| {
            let newer = side_by_side(pairs, |filter| {
                let [newer, _] = of(filter);
                newer
            });
            let older = side_by_side(pairs, |filter| {
                let [_, older] = of(filter);
                older
            });
            [newer, older]
        };
        Self {
            heard: both(|filter| filter.heard),
            shelved: both(|filter| filter.shelved),
            weighted: both(|filter| filter.weighted),
            weighted_square_sum: side_by_side(pairs, |pair| pair.weighted_square_sum),
            square_sum: side_by_side(pairs, |pair| pair.square_sum),
            product_sum: side_by_side(pairs, |pair| pair.product_sum),
        }
    }

    /// The pair at `index` of those that were joined.
    #[inline(always)]
    fn pair(&self, index: usize) -> Filter<2> {
        let part = |values: [f64; N]| pair_of(&values, index);
        Filter {
            heard: self.heard.map(part),
            shelved: self.shelved.map(part),
            weighted: self.weighted.map(part),
            weighted_square_sum: part(self.weighted_square_sum),
            square_sum: part(self.square_sum),
            product_sum: part(self.product_sum),
        }
    }
}

#[inline(always)]
fn pair_of<const N: usize>(values: &[f64; N], index: usize) -> Two {
    values.as_chunks().0.get(index).copied().unwrap_or_default()
}

/// Frames that are put side by side at once: few enough to stay in the nearest cache.
const TURN_FRAMES: usize = 96;

/// K-weighting of two channels that are worked on together, and their sums.
#[derive(Debug, Clone)]
pub(super) struct PairSums {
    filter: Filter<2>,
    /// Σ y² of each channel where it was to be noted in the last block.
    noted: [Two; MOST],
    /// Room for a turn of this pair alone: kept, as clearing it costs a short block of stereo as much
    /// as filling it.
    frames: [[f32; 2]; TURN_FRAMES],
}

impl PairSums {
    /// Silence before, nothing summed.
    pub fn new() -> Self {
        Self { filter: Filter::NEW, noted: [[0.0; 2]; MOST], frames: [[0.0; 2]; TURN_FRAMES] }
    }

    /// Forgets everything: as new.
    pub fn clear(&mut self) {
        self.filter = Filter::NEW;
    }

    /// Σ y² of each channel, y K-weighted but for [`Factors::square_gain`].
    pub fn weighted_square_sum(&self) -> Two {
        self.filter.weighted_square_sum
    }

    /// The same after the `index`-th of the ends of the last block.
    pub fn noted(&self, index: usize) -> Two {
        self.noted.get(index).copied().unwrap_or_default()
    }

    /// Σ x² of each channel.
    pub fn square_sum(&self) -> Two {
        self.filter.square_sum
    }

    /// Σ of the product of the two channels.
    pub fn product_sum(&self) -> f64 {
        let [product, _] = self.filter.product_sum;
        product
    }

    /// Adds frames; `channels` are the two, scrubbed; of unequal lengths the shorter counts. Σ y² is
    /// noted after each of `ends`, which rise.
    pub fn add(
        &mut self,
        on: Instructions,
        factors: &Factors,
        channels: [&[f32]; 2],
        ends: &[usize],
    ) {
        let Self { filter, noted, frames } = self;
        let interleave =
            |channels: [&[f32]; 2], frames: &mut _| on.interleave_two(channels, frames);
        filter.run(channels, ends, noted, frames, interleave, |filter, frames| {
            on.add_two(filter, factors, frames);
        });
    }

    /// The same for two pairs at once, in little more time than for one. `channels` are those of
    /// the first pair, then those of the second.
    pub fn add_two(
        on: Instructions,
        pairs: [&mut Self; 2],
        factors: &Factors,
        channels: [&[f32]; 4],
        ends: &[usize],
    ) {
        let mut filter = Filter::joined(&pairs);
        let mut noted = [[0.0; 4]; MOST];
        let interleave = |channels: [&[f32]; 4], frames: &mut _| on.interleave(channels, frames);
        let room = &mut [[0.0; 4]; TURN_FRAMES];
        filter.run(channels, ends, &mut noted, room, interleave, |filter, frames| {
            on.add_four(filter, factors, frames);
        });
        Self::part(pairs, &filter, &noted);
    }

    /// The same for four pairs, in little more time than for one: `wide` is the proof that a
    /// register holds eight values.
    #[cfg(target_arch = "x86_64")]
    pub fn add_four(
        wide: Wide,
        pairs: [&mut Self; 4],
        factors: &Factors,
        channels: [&[f32]; 8],
        ends: &[usize],
    ) {
        let mut filter = Filter::joined(&pairs);
        let mut noted = [[0.0; 8]; MOST];
        let interleave = |channels: [&[f32]; 8], frames: &mut _| wide.interleave(channels, frames);
        let room = &mut [[0.0; 8]; TURN_FRAMES];
        filter.run(channels, ends, &mut noted, room, interleave, |filter, frames| {
            wide.add_eight(filter, factors, frames);
        });
        Self::part(pairs, &filter, &noted);
    }

    /// Takes over what a filter of all `pairs` found.
    fn part<const P: usize, const N: usize>(
        pairs: [&mut Self; P],
        filter: &Filter<N>,
        noted: &[[f64; N]; MOST],
    ) {
        for (index, pair) in pairs.into_iter().enumerate() {
            pair.filter = filter.pair(index);
            for (mine, noted) in pair.noted.iter_mut().zip(noted) {
                *mine = pair_of(noted, index);
            }
        }
    }

    /// Sets the sums to zero for the next hop, and memory that has decayed to nothing too.
    pub fn clear_sums(&mut self) {
        let filter = &mut self.filter;
        filter.weighted_square_sum = [0.0; 2];
        filter.square_sum = [0.0; 2];
        filter.product_sum = [0.0; 2];
        for value in [&mut filter.shelved, &mut filter.weighted].into_iter().flatten().flatten() {
            if value.abs() < FLUSH {
                *value = 0.0;
            }
        }
    }
}

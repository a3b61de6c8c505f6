//! A whole process on both cores against ffmpeg: from the file to the figures.
//!
//! The file is mapped, which spares the copy of a read; each core measures some parts of it side by
//! side, block by block.

use std::fs::File;
use std::num::NonZeroUsize;
use std::path::Path;
use std::process::Command;
use std::time::Instant;

use memmap2::Mmap;
use plimsoll::loudness::{Analysis, FilePart};
use plimsoll::meters::prefetch;
use plimsoll::units::SampleRate;
use plimsoll_tests::audio_file::{Audio, write_wav_f32};

use crate::failure::{Failure, Outcome};
use crate::input::{LAYOUT, Song};
use crate::offline::check;
use crate::peers::ffmpeg;
use crate::table::{Row, Table, Verdict};

/// Length of the file, minutes.
pub const MINUTES: usize = 10;
const ROUNDS: usize = 5;
/// A hop at 48 kHz: the blocks of all parts stay in the nearest cache.
const BLOCK_FRAMES: usize = 480;

/// A stereo frame of 32-bit floats.
type Frame = [u8; 8];

/// The row of the file at `wav`, which holds `song`.
pub fn rows(song: &Song, wav: &Path, table: &mut Table) -> Outcome<()> {
    eprintln!("Whole processes …");
    let program = std::env::current_exe().map_err(Failure::io(Path::new("bench")))?;
    let (mut ours, mut theirs) = (f64::INFINITY, f64::INFINITY);
    let figures = measure(wav)?.song_figures();
    for _ in 0..ROUNDS {
        let start = Instant::now();
        let output = Command::new(&program).arg("file").arg(wav).output();
        let output = output.map_err(Failure::io(&program))?;
        ours = ours.min(start.elapsed().as_secs_f64());
        if !output.status.success() {
            return Err(Failure::program("bench file")(output.status));
        }
        match ffmpeg(wav) {
            Ok(reading) => {
                check("ffmpeg", &figures, &reading)?;
                theirs = theirs.min(reading.seconds);
            }
            Err(failure @ Failure::Missing { .. }) => {
                table.note(failure.to_string());
                break;
            }
            Err(failure) => return Err(failure),
        }
    }
    if theirs.is_finite() {
        table.row(Row {
            what: format!("{} x {MINUTES} min WAV, whole process, against ffmpeg", song.name),
            ours: format!("{:.0} ms", ours * 1e3),
            theirs: format!("{:.0} ms", theirs * 1e3),
            ratio: format!("{:.1}x", theirs / ours),
            required: "must 25x, aim 50x",
            verdict: Some(Verdict::AtLeast { found: theirs / ours, must: 25.0 }),
        });
    }
    Ok(())
}

/// Writes `song`, repeated, to a file of [`MINUTES`].
pub fn write_song(song: &Song, wav: &Path) -> Outcome<()> {
    let len_frames = MINUTES * 60 * song.audio.rate_hz as usize;
    let channels = song.audio.channels.iter();
    let audio = Audio {
        rate_hz: song.audio.rate_hz,
        channels: channels
            .map(|plane| plane.iter().copied().cycle().take(len_frames).collect())
            .collect(),
    };
    write_wav_f32(wav, &audio).map_err(Failure::program("writing the file"))
}

/// `bench file`: measures and prints.
pub fn run(wav: &Path) -> Outcome<()> {
    let figures = measure(wav)?.song_figures();
    println!("{figures:?}");
    Ok(())
}

fn measure(wav: &Path) -> Outcome<Analysis> {
    let file = File::open(wav).map_err(Failure::io(wav))?;
    let wrong = || Failure::Rule(format!("{}: not written by the bench", wav.display()));
    let (rate, len_frames) = {
        let map = mapped(&file, wav)?;
        let (rate, frames) = samples(&map).ok_or_else(wrong)?;
        (rate, frames.len())
    };
    let cores = std::thread::available_parallelism().unwrap_or(NonZeroUsize::MIN);
    let together = FilePart::best_together();
    let parts = cores.saturating_mul(together);
    let mut parts = FilePart::cut(len_frames as i64, rate, LAYOUT, parts);
    std::thread::scope(|scope| {
        let threads: Vec<_> = parts
            .chunks_mut(together.get())
            .map(|parts| {
                // Each maps the file itself, so that each takes down its own half of it too.
                scope.spawn(|| {
                    let map = mapped(&file, wav)?;
                    let (_, frames) = samples(&map).ok_or_else(wrong)?;
                    measure_parts(frames, parts);
                    Ok(())
                })
            })
            .collect();
        let ended = threads.into_iter().map(|thread| {
            thread.join().unwrap_or_else(|_| Err(Failure::Rule("a thread panicked".to_owned())))
        });
        ended.collect::<Outcome<()>>()
    })?;
    Ok(FilePart::join(parts, LAYOUT))
}

/// The file at `wav`, in memory as far as it is read.
fn mapped(file: &File, wav: &Path) -> Outcome<Mmap> {
    // SAFETY: a mapped file must not change. The bench wrote it, and only now removes it.
    #[allow(unsafe_code)]
    unsafe { Mmap::map(file) }.map_err(Failure::io(wav))
}

/// Measures the parts of one thread.
fn measure_parts(frames: &[Frame], parts: &mut [FilePart]) {
    if let [one, two, three, four] = parts {
        measure_together([one, two, three, four], frames);
    }
    for two in parts.chunks_mut(2) {
        if let [one, two] = two {
            measure_together([one, two], frames);
        }
    }
    for part in parts {
        measure_together([part], frames);
    }
}

/// Measures parts side by side, as far as all of them reach.
fn measure_together<const N: usize>(mut parts: [&mut FilePart; N], frames: &[Frame]) {
    let mut blocks = [(); N].map(|()| Block::default());
    loop {
        let fills = blocks.iter_mut().zip(&parts).map(|(block, part)| block.fill(part, frames));
        let len = fills.min().unwrap_or(0);
        if len == 0 {
            break;
        }
        let channels = blocks.each_ref().map(|block| block.next(len));
        FilePart::push_together(
            parts.each_mut().map(|part| &mut **part),
            channels.each_ref().map(<[_; 2]>::as_slice),
        );
        blocks.iter_mut().for_each(|block| block.used += len);
    }
}

/// Frames of a part.
#[derive(Default)]
struct Block {
    planes: [Vec<f32>; 2],
    /// How many of them were measured.
    used: usize,
}

impl Block {
    /// Takes the next frames for `part` once the last are used up; how many there are.
    fn fill(&mut self, part: &FilePart, frames: &[Frame]) -> usize {
        if self.used == self.planes[0].len() {
            let wanted = part.frames();
            let wanted = &frames[wanted.start as usize..wanted.end.max(wanted.start) as usize];
            let len = wanted.len().min(BLOCK_FRAMES);
            let frames = &wanted[..len];
            let [left, right] = &mut self.planes;
            left.resize(len, 0.0);
            right.resize(len, 0.0);
            for ((left, right), frame) in left.iter_mut().zip(right).zip(frames) {
                let [a, b, c, d, e, f, g, h] = *frame;
                *left = f32::from_le_bytes([a, b, c, d]);
                *right = f32::from_le_bytes([e, f, g, h]);
            }
            self.used = 0;
            // The next ones come while these are measured.
            prefetch(&wanted[len..wanted.len().min(len + BLOCK_FRAMES)]);
        }
        self.planes[0].len() - self.used
    }

    /// The next `len_frames` of them.
    fn next(&self, len_frames: usize) -> [&[f32]; 2] {
        let frames = self.used..self.used + len_frames;
        [&self.planes[0][frames.clone()], &self.planes[1][frames]]
    }
}

/// Rate and frames of a WAV of stereo 32-bit floats, as the bench writes it. Not a reader for any
/// file: the sizes in it are believed.
fn samples(wav: &[u8]) -> Option<(SampleRate, &[Frame])> {
    let (mut chunks, mut rate_hz) = (wav.get(12..)?, 0);
    loop {
        let (name, rest) = chunks.split_first_chunk::<4>()?;
        let (len, rest) = rest.split_first_chunk::<4>()?;
        let (chunk, rest) = rest.split_at_checked(u32::from_le_bytes(*len) as usize)?;
        match name {
            b"fmt " => rate_hz = u32::from_le_bytes(*chunk.get(4..)?.first_chunk()?),
            b"data" => return Some((SampleRate::new(rate_hz).ok()?, chunk.as_chunks().0)),
            _ => {}
        }
        chunks = rest;
    }
}

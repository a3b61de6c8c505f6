//! A whole process on both cores against ffmpeg: from the file to the figures.
//!
//! Each core measures some parts of it side by side, block by block, and reads each part in pieces
//! that stay in its own cache. (A mapped file took 4 to 10 % longer on a quiet machine: its pages are
//! mapped few at a time, and the processor waits for each.)

use std::fs::File;
use std::io::{BufRead, BufReader, Read, Seek, SeekFrom};
use std::num::NonZeroUsize;
use std::path::Path;
use std::process::Command;
use std::time::Instant;

use plimsoll::loudness::{Analysis, FilePart};
use plimsoll::units::SampleRate;
use plimsoll_tests::audio_file::{Audio, write_wav_f32};

use crate::failure::{Failure, Outcome};
use crate::input::{LAYOUT, Song};
use crate::offline::check;
use crate::peers::ffmpeg;
use crate::table::{Row, Table, Verdict};

/// Length of the file, minutes.
pub const MINUTES: usize = 10;
const ROUNDS: usize = 9;
/// A hop at 48 kHz: the blocks of all parts stay in the nearest cache.
const BLOCK_FRAMES: usize = 480;
/// A stereo frame of 32-bit floats.
const FRAME_BYTES: usize = 8;
/// What is read of a part at once, in whole blocks; of four parts half a megabyte.
const READ_BYTES: usize = 32 * BLOCK_FRAMES * FRAME_BYTES;

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
    let data = Data::of(wav)?;
    let cores = std::thread::available_parallelism().unwrap_or(NonZeroUsize::MIN);
    let together = FilePart::best_together();
    let parts = cores.saturating_mul(together);
    let mut parts = FilePart::cut(data.frames, data.rate, LAYOUT, parts);
    std::thread::scope(|scope| {
        let threads: Vec<_> = parts
            .chunks_mut(together.get())
            .map(|parts| scope.spawn(|| measure_parts(wav, &data, parts)))
            .collect();
        let ended = threads.into_iter().map(|thread| {
            thread.join().unwrap_or_else(|_| Err(Failure::Rule("a thread panicked".to_owned())))
        });
        ended.collect::<Outcome<()>>()
    })?;
    Ok(FilePart::join(parts, LAYOUT))
}

/// Measures the parts of one thread.
fn measure_parts(wav: &Path, data: &Data, parts: &mut [FilePart]) -> Outcome<()> {
    let parts = parts.iter_mut().map(|part| Source::new(wav, data, part));
    let mut parts = parts.collect::<Outcome<Vec<_>>>()?;
    if let [one, two, three, four] = parts.as_mut_slice() {
        measure_together([one, two, three, four])?;
    }
    for two in parts.chunks_mut(2) {
        if let [one, two] = two {
            measure_together([one, two])?;
        }
    }
    parts.iter_mut().try_for_each(|part| measure_together([part]))
}

/// Measures parts side by side, as far as all of them reach.
fn measure_together<const N: usize>(mut parts: [&mut Source<'_>; N]) -> Outcome<()> {
    loop {
        let mut len = usize::MAX;
        for part in &mut parts {
            len = len.min(part.fill()?);
        }
        if len == 0 {
            return Ok(());
        }
        let mut blocks = [[&[][..]; 2]; N];
        let mut blocks_left = blocks.iter_mut();
        let parts = parts.each_mut().map(|part| {
            let Source { part, planes, used, .. } = &mut **part;
            if let Some(block) = blocks_left.next() {
                *block = planes.each_ref().map(|plane| &plane[*used..*used + len]);
            }
            *used += len;
            &mut **part
        });
        FilePart::push_together(parts, blocks.each_ref().map(<[_; 2]>::as_slice));
    }
}

/// Where the samples of a WAV of stereo 32-bit floats stand.
struct Data {
    rate: SampleRate,
    start: u64,
    frames: i64,
}

impl Data {
    /// Reads the header of a file that the bench wrote. Not a reader for any file: the sizes in it
    /// are believed.
    fn of(wav: &Path) -> Outcome<Self> {
        let mut head = Vec::new();
        let file = File::open(wav).map_err(Failure::io(wav))?;
        file.take(4096).read_to_end(&mut head).map_err(Failure::io(wav))?;
        let wrong = || Failure::Rule(format!("{}: not written by the bench", wav.display()));
        Self::find(&head).ok_or_else(wrong)
    }

    fn find(head: &[u8]) -> Option<Self> {
        let (mut at, mut rate_hz) = (12, 0);
        loop {
            let (name, rest) = head.get(at..)?.split_first_chunk::<4>()?;
            let (len, chunk) = rest.split_first_chunk::<4>()?;
            let len = u32::from_le_bytes(*len);
            at += 8;
            match name {
                b"fmt " => rate_hz = u32::from_le_bytes(*chunk.get(4..)?.first_chunk()?),
                b"data" => {
                    let rate = SampleRate::new(rate_hz).ok()?;
                    let frames = i64::from(len) / FRAME_BYTES as i64;
                    return Some(Self { rate, start: at as u64, frames });
                }
                _ => {}
            }
            at += len as usize;
        }
    }
}

/// A part and its frames.
struct Source<'a> {
    part: &'a mut FilePart,
    wav: &'a Path,
    file: BufReader<File>,
    planes: [Vec<f32>; 2],
    /// How many of `planes` were measured.
    used: usize,
}

impl<'a> Source<'a> {
    fn new(wav: &'a Path, data: &Data, part: &'a mut FilePart) -> Outcome<Self> {
        let mut file = File::open(wav).map_err(Failure::io(wav))?;
        let start = data.start + part.frames().start as u64 * FRAME_BYTES as u64;
        file.seek(SeekFrom::Start(start)).map_err(Failure::io(wav))?;
        let file = BufReader::with_capacity(READ_BYTES, file);
        Ok(Self { part, wav, file, planes: Default::default(), used: 0 })
    }

    /// Takes the next frames once the last are used up; how many there are.
    fn fill(&mut self) -> Outcome<usize> {
        let [left, right] = &mut self.planes;
        if self.used == left.len() {
            let wanted = self.part.frames();
            let wanted = (wanted.end - wanted.start).max(0) as usize;
            let read = self.file.fill_buf().map_err(Failure::io(self.wav))?;
            let frames = read.as_chunks::<FRAME_BYTES>().0;
            let len = frames.len().min(wanted).min(BLOCK_FRAMES);
            if len == 0 && wanted > 0 {
                return Err(Failure::Rule(format!("{}: cut off", self.wav.display())));
            }
            left.resize(len, 0.0);
            right.resize(len, 0.0);
            for ((left, right), frame) in left.iter_mut().zip(right).zip(frames) {
                let [a, b, c, d, e, f, g, h] = *frame;
                *left = f32::from_le_bytes([a, b, c, d]);
                *right = f32::from_le_bytes([e, f, g, h]);
            }
            self.file.consume(len * FRAME_BYTES);
            self.used = 0;
        }
        Ok(self.planes[0].len() - self.used)
    }
}

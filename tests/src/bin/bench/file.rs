//! A whole process on both cores against ffmpeg: from the file to the figures.
//!
//! Each core reads two parts of the file block by block and measures them side by side, so no more
//! of the file than a few blocks is in memory.

use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
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
const ROUNDS: usize = 5;
const BLOCK_FRAMES: usize = 4_096;
/// A stereo frame of 32-bit floats.
const FRAME_BYTES: usize = 8;

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
    let (rate, data_start, len_frames) = header(wav)?;
    let cores = std::thread::available_parallelism().unwrap_or(NonZeroUsize::MIN);
    let two_each = cores.saturating_mul(NonZeroUsize::MIN.saturating_add(1));
    let mut parts = FilePart::cut(len_frames as i64, rate, LAYOUT, two_each);
    std::thread::scope(|scope| {
        let running: Vec<_> = parts
            .chunks_mut(2)
            .map(|parts| scope.spawn(move || read_parts(wav, data_start, parts)))
            .collect();
        running.into_iter().try_for_each(|thread| {
            let ended = thread.join();
            ended.unwrap_or_else(|_| Err(Failure::Rule("a thread panicked".to_owned())))
        })
    })?;
    Ok(FilePart::join(parts, LAYOUT))
}

/// Reads and measures one part or two.
fn read_parts(wav: &Path, data_start: u64, parts: &mut [FilePart]) -> Outcome<()> {
    if let [one, two] = parts {
        let mut sources =
            [Source::open(wav, data_start, one)?, Source::open(wav, data_start, two)?];
        loop {
            let len = sources[0].fill(one)?.min(sources[1].fill(two)?);
            if len == 0 {
                break;
            }
            let [first, second] = &sources;
            FilePart::push_both([one, two], [&first.block(len), &second.block(len)]);
            sources.iter_mut().for_each(|source| source.used += len);
        }
    }
    for part in parts {
        let mut source = Source::open(wav, data_start, part)?;
        loop {
            let len = source.fill(part)?;
            if len == 0 {
                break;
            }
            part.push(&source.block(len));
            source.used += len;
        }
    }
    Ok(())
}

/// A place in the file, and a block of what stands there.
struct Source<'a> {
    wav: &'a Path,
    file: File,
    bytes: Vec<u8>,
    planes: [Vec<f32>; 2],
    /// Frames in the block, and how many of them were measured.
    filled: usize,
    used: usize,
}

impl<'a> Source<'a> {
    /// Where `part` needs the file next.
    fn open(wav: &'a Path, data_start: u64, part: &FilePart) -> Outcome<Self> {
        let mut file = File::open(wav).map_err(Failure::io(wav))?;
        let start = data_start + part.frames().start as u64 * FRAME_BYTES as u64;
        file.seek(SeekFrom::Start(start)).map_err(Failure::io(wav))?;
        Ok(Self {
            wav,
            file,
            bytes: vec![0; BLOCK_FRAMES * FRAME_BYTES],
            planes: [vec![0.0; BLOCK_FRAMES], vec![0.0; BLOCK_FRAMES]],
            filled: 0,
            used: 0,
        })
    }

    /// Reads the next block once the last is used up; the frames that are there for `part`.
    fn fill(&mut self, part: &FilePart) -> Outcome<usize> {
        if self.used == self.filled {
            let frames = part.frames();
            let len = BLOCK_FRAMES.min((frames.end - frames.start).max(0) as usize);
            let bytes = &mut self.bytes[..len * FRAME_BYTES];
            self.file.read_exact(bytes).map_err(Failure::io(self.wav))?;
            let [left, right] = &mut self.planes;
            let frames = bytes.as_chunks::<FRAME_BYTES>().0;
            for ((left, right), frame) in left.iter_mut().zip(right).zip(frames) {
                let [a, b, c, d, e, f, g, h] = *frame;
                *left = f32::from_le_bytes([a, b, c, d]);
                *right = f32::from_le_bytes([e, f, g, h]);
            }
            (self.filled, self.used) = (len, 0);
        }
        Ok(self.filled - self.used)
    }

    /// The next `len_frames` of the block.
    fn block(&self, len_frames: usize) -> [&[f32]; 2] {
        let frames = self.used..self.used + len_frames;
        [&self.planes[0][frames.clone()], &self.planes[1][frames]]
    }
}

/// Rate, first byte of the samples and frames of a WAV of stereo 32-bit floats, as the bench
/// writes it. Not a reader for any file: the sizes in it are believed.
fn header(wav: &Path) -> Outcome<(SampleRate, u64, usize)> {
    let wrong = || Failure::Rule(format!("{}: not written by the bench", wav.display()));
    let mut file = File::open(wav).map_err(Failure::io(wav))?;
    let mut bytes = [0; 4_096];
    file.read_exact(&mut bytes).map_err(Failure::io(wav))?;
    let word = |at: usize| -> Outcome<u32> {
        let word = bytes.get(at..).and_then(|bytes| bytes.first_chunk());
        word.map(|word| u32::from_le_bytes(*word)).ok_or_else(wrong)
    };
    let (mut at, mut rate_hz) = (12, 0);
    loop {
        let len = word(at + 4)? as usize;
        match bytes.get(at..at + 4).ok_or_else(wrong)? {
            b"fmt " => rate_hz = word(at + 12)?,
            b"data" => {
                let rate = SampleRate::new(rate_hz).map_err(|_| wrong())?;
                return Ok((rate, at as u64 + 8, len / FRAME_BYTES));
            }
            _ => {}
        }
        at += 8 + len;
    }
}

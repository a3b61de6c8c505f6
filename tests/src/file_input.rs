//! What the fuzz targets and their bounded runs do with an input that is meant to be a file. Uses
//! nothing of this crate, so that the fuzz targets need not build that.

use plimsoll::section::{MAX_MARKERS, Marker, parse_marker_list, read_file_markers};
use plimsoll_reader::{BLOCK_FRAMES, Block, MAX_CHANNELS, Reader};
use std::fs::File;
use std::path::Path;

/// A few bytes can stand for hours of a lossy code: reading stops here.
const MOST_FRAMES: usize = 1 << 20;

/// Reads the file at `path` as audio, and its markers.
///
/// # Panics
/// If what is read breaks a promise of the reader; that is what is looked for.
pub fn audio_file(path: &Path) {
    if let Ok(mut file) = File::open(path) {
        markers(read_file_markers(&mut file).map(Option::unwrap_or_default));
    }
    let mut reader = match Reader::open(path) {
        Ok(reader) => reader,
        Err(error) => return one_line(&error.to_string()),
    };
    let channels = reader.facts().channels;
    assert!((1..=MAX_CHANNELS).contains(&channels) && reader.facts().rate_hz > 0);
    let (mut block, mut frames) = (Block::default(), 0);
    while frames < MOST_FRAMES {
        if let Err(error) = reader.read(&mut block) {
            return one_line(&error.to_string());
        }
        if block.len_frames() == 0 {
            assert!(frames > 0, "a file without a frame is refused");
            break;
        }
        frames += block.len_frames();
        assert!(block.planes().len() == channels && block.len_frames() <= BLOCK_FRAMES);
        assert!(block.planes().iter().all(|plane| plane.len() == block.len_frames()));
    }
    assert!(reader.warnings().len() < 20, "{:?}", reader.warnings());
    reader.warnings().iter().for_each(|warning| one_line(warning));
}

/// Reads `data` as a list of sections.
///
/// # Panics
/// If what is read is not in order or no plain text.
pub fn section_list(data: &[u8]) {
    if let Ok(text) = std::str::from_utf8(data) {
        markers(parse_marker_list(text));
    }
}

fn markers(read: Result<Vec<Marker>, impl std::fmt::Display>) {
    match read {
        Ok(markers) => {
            assert!(markers.len() <= MAX_MARKERS && markers.is_sorted_by_key(|marker| marker.at_s));
            for Marker { name, at_s, .. } in markers {
                assert!(at_s.is_finite() && !name.chars().any(char::is_control), "{name:?}");
            }
        }
        Err(error) => one_line(&error.to_string()),
    }
}

/// What is told of a file is one line of plain text.
fn one_line(text: &str) {
    assert!(!text.trim().is_empty() && !text.chars().any(char::is_control), "{text:?}");
}

//! A list of markers as text.
//!
//! One marker a line: a time, then a tab, comma, semicolon or spaces, then a name, which may be
//! missing or stand in double quotes. Times are seconds (`75`, `75.5`), `m:ss`, `m:ss.mmm` or
//! `h:mm:ss`, with a point as the decimal sign and a minus for a count-in. Empty lines and lines
//! that begin with `#` are passed over. Lines need not be in order.

use super::super::{END_S, FIRST_S};
use super::{MAX_MARKERS, Marker, MarkerError, clean_name};
use std::io::Read;

/// Longest list that is read, bytes. The project's own choice, no source.
const MAX_LIST_BYTES: u64 = 1 << 20;

/// Longest piece of a line that an error shows, characters.
const SHOWN_CHARS: usize = 24;

/// Reads a list of markers.
///
/// # Errors
/// A file that cannot be read, is longer than 1 MiB or not UTF-8, or a line that is no marker.
pub fn read_marker_list(source: impl Read) -> Result<Vec<Marker>, MarkerError> {
    let mut bytes = Vec::new();
    source.take(MAX_LIST_BYTES + 1).read_to_end(&mut bytes)?;
    if u64::try_from(bytes.len()).is_ok_and(|length| length > MAX_LIST_BYTES) {
        return Err(MarkerError::TooLong { max_bytes: MAX_LIST_BYTES });
    }
    let text = std::str::from_utf8(&bytes).map_err(|error| {
        let good = bytes.get(..error.valid_up_to()).unwrap_or_default();
        MarkerError::NotUtf8 { line: good.iter().filter(|&&byte| byte == b'\n').count() + 1 }
    })?;
    parse_marker_list(text)
}

/// Reads a list of markers out of text, for the clipboard.
///
/// # Errors
/// The first line that is no marker, with its number, what stands there and the rule.
pub fn parse_marker_list(text: &str) -> Result<Vec<Marker>, MarkerError> {
    // A byte order mark that an editor put first.
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut markers = Vec::new();
    for (index, line) in text.lines().enumerate() {
        let content = line.trim();
        if content.is_empty() || content.starts_with('#') {
            continue;
        }
        if markers.len() == MAX_MARKERS {
            return Err(MarkerError::TooMany);
        }
        markers.push(marker(content, index + 1)?);
    }
    markers.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    Ok(markers)
}

fn marker(content: &str, line: usize) -> Result<Marker, MarkerError> {
    let is_separator = |c: char| c.is_whitespace() || matches!(c, ',' | ';');
    let (time, rest) = match content.split_once(is_separator) {
        Some((time, rest)) => (time, rest),
        None => (content, ""),
    };
    // "1:05 ; Verse" and "1:05,Verse" alike: one comma or semicolon, and spaces around it. If
    // the first separator was the comma, a further one belongs to the name.
    let after_time = content.get(time.len()..).unwrap_or_default();
    let name = if after_time.starts_with([',', ';']) {
        rest.trim_start()
    } else {
        let rest = rest.trim_start();
        rest.strip_prefix([',', ';']).unwrap_or(rest).trim_start()
    };
    let quoted = name.strip_prefix('"').and_then(|name| name.strip_suffix('"'));
    Ok(Marker {
        at_s: seconds(time, line)?,
        length_s: None,
        name: clean_name(quoted.unwrap_or(name)),
    })
}

/// What an error shows of `text`: its start, and nothing that a terminal would obey.
fn shown(text: &str) -> String {
    text.chars().take(SHOWN_CHARS).flat_map(char::escape_debug).collect()
}

/// The time that `time` says, in seconds.
fn seconds(time: &str, line: usize) -> Result<f64, MarkerError> {
    let bad = || MarkerError::BadTime { line, found: shown(time) };
    let (sign, plain) = match time.strip_prefix(['-', '−']) {
        Some(plain) => (-1.0, plain),
        None => (1.0, time),
    };
    let mut parts = plain.split(':').rev();
    let seconds_text = parts.next().unwrap_or_default();
    let minutes_text = parts.next();
    let hours_text = parts.next();
    if parts.next().is_some() {
        return Err(bad());
    }
    let (whole, fraction) = match seconds_text.split_once('.') {
        Some((whole, fraction)) => (whole, Some(fraction)),
        None => (seconds_text, None),
    };
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let numbers = [Some(whole), fraction, minutes_text, hours_text];
    if !numbers.into_iter().flatten().all(digits) {
        return Err(bad());
    }
    let number = |text: &str| text.parse::<f64>().map_err(|_| bad());
    let below_sixty = |text: &str| {
        let value = number(text)?;
        if value < 60.0 {
            return Ok(value);
        }
        let found = shown(text);
        Err(MarkerError::SixtyOrMore { line, found })
    };
    let mut value_s = match minutes_text {
        Some(_) => below_sixty(seconds_text)?,
        None => number(seconds_text)?,
    };
    if let Some(minutes) = minutes_text {
        value_s +=
            60.0 * if hours_text.is_some() { below_sixty(minutes)? } else { number(minutes)? };
    }
    if let Some(hours) = hours_text {
        value_s += 3_600.0 * number(hours)?;
    }
    let value_s = sign * value_s;
    if !(FIRST_S..=END_S).contains(&value_s) {
        return Err(MarkerError::OutOfRange { line, found: shown(time) });
    }
    Ok(value_s)
}

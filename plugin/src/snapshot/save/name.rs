//! Names of files that are safe on all three systems.

use super::super::UtcTime;
use super::SaveError;

/// Most characters of a song's name in the name of a file. The project's own choice, no source.
const SONG_CHARS: usize = 60;

/// Most bytes of a name, its ending and the temporary one's aside: file systems allow 255 bytes or
/// UTF-16 units (common practice, no source).
const MOST_BYTES: usize = 200;

/// What Windows does not allow in a name, and the slashes of all systems (from memory).
const FORBIDDEN: [char; 9] = ['<', '>', ':', '"', '/', '\\', '|', '?', '*'];

/// Names of devices on Windows, with any ending too (from memory).
const DEVICES: [&str; 6] = ["con", "prn", "aux", "nul", "conin$", "conout$"];

/// What numbers devices there: raised digits do so too.
const DEVICE_NUMBERS: [char; 12] = ['1', '2', '3', '4', '5', '6', '7', '8', '9', '¹', '²', '³'];

/// Whether Windows takes a file's name for a device.
#[must_use]
pub fn is_device_name(name: &str) -> bool {
    // Spaces before the ending do not count.
    let base = name.split('.').next().unwrap_or_default().trim_end().to_lowercase();
    let numbered = ["com", "lpt"].iter().any(|port| {
        let number = base.strip_prefix(port).unwrap_or_default();
        number.chars().count() == 1 && number.contains(DEVICE_NUMBERS)
    });
    numbered || DEVICES.contains(&base.as_str())
}

/// Says why `name` is no name of a file on all three systems.
pub(super) fn check(name: &str) -> Result<(), SaveError> {
    let rule = if name.trim().is_empty() {
        "must not be empty"
    } else if name.contains(['/', '\\']) {
        "must not hold a slash: the folder is given apart"
    } else if name.contains(|found: char| found.is_control() || FORBIDDEN.contains(&found)) {
        "must not hold control characters or any of < > : \" | ? *"
    } else if name.starts_with(['.', ' ']) || name.ends_with(['.', ' ']) {
        "must not begin or end with a full stop or a space"
    } else if is_device_name(name) {
        "is a device on one of the systems"
    } else if name.len() > MOST_BYTES {
        "must not be longer than 200 bytes"
    } else {
        return Ok(());
    };
    Err(SaveError::BadName { name: name.to_owned(), rule })
}

/// The letters and digits of `song`, whatever stands between them as one hyphen, and the time.
pub(super) fn suggested(song: &str, taken: UtcTime) -> String {
    let words = song.split(|found: char| !found.is_alphanumeric()).filter(|word| !word.is_empty());
    let joined = words.collect::<Vec<_>>().join("-");
    let mut song = String::new();
    for letter in joined.chars().take(SONG_CHARS) {
        if song.len() + letter.len_utf8() > MOST_BYTES / 2 {
            break;
        }
        song.push(letter);
    }
    let song = song.trim_end_matches('-');
    let song = if song.is_empty() { "song" } else { song };
    format!("{song}-{}", taken.for_file_name())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn now() -> UtcTime {
        UtcTime::from_unix_s(5_580 * 86_400 + 84_050)
    }

    #[test]
    fn a_suggested_name_is_one_on_all_systems_whatever_the_song_is_called() {
        assert_eq!(suggested("Lantern Tide", now()), "Lantern-Tide-1985-04-12-232050");
        assert_eq!(suggested("../../etc/passwd", now()), "etc-passwd-1985-04-12-232050");
        assert_eq!(suggested("Über: \"naïve\"?", now()), "Über-naïve-1985-04-12-232050");
        assert_eq!(suggested("🌊🌊", now()), "song-1985-04-12-232050");
        for song in ["CON", "nul.txt", "", " ", "a\u{0}b\nc", "-rf", "\u{202e}gpj"] {
            let name = suggested(song, now());
            assert!(check(&name).is_ok(), "{name}");
        }
        let long = "ぬ".repeat(300);
        assert!(check(&suggested(&long, now())).is_ok());
    }

    #[test]
    fn names_that_are_none_somewhere_are_refused_with_the_rule() {
        for name in [
            "", "  ", "a/b", "a\\b", "a:b", "a\nb", ".hidden", "end.", "end ", "..", "CON",
            "aux.x", "Com1", "lpt9.txt", "q?", "nul .txt", "COM¹", "conin$",
        ] {
            assert!(matches!(check(name), Err(SaveError::BadName { .. })), "{name:?}");
        }
        for name in ["song", "COM", "com10", "console", "a.b", "Über 3"] {
            assert!(check(name).is_ok(), "{name:?}");
        }
        assert!(check(&"x".repeat(201)).is_err());
        assert_eq!(
            check("a/b").unwrap_err().to_string(),
            "name \"a/b\": must not hold a slash: the folder is given apart"
        );
    }
}

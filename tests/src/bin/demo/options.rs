//! The demo's command line. `cargo xtask demo` writes it; people seldom do.

use std::ffi::OsString;
use std::path::PathBuf;

use crate::failure::Failure;

const USAGE: &str = "demo --plugin PLUGIN.clap --out DIR [--json OUT] [--target NAME] [--] [FILE]";

/// What to play, where, and what to write.
#[derive(Debug, PartialEq)]
pub struct Options {
    /// The built plugin.
    pub plugin: PathBuf,
    /// Folder for what is written.
    pub out: PathBuf,
    /// File for every figure.
    pub json: Option<PathBuf>,
    /// Name of a built-in target.
    pub target: Option<String>,
    /// The user's song; without it the demo song is rendered.
    pub file: Option<PathBuf>,
}

impl Options {
    /// Reads the words after the program's name.
    pub fn parse(words: impl IntoIterator<Item = OsString>) -> Result<Self, Failure> {
        let mut words = words.into_iter();
        let (mut plugin, mut out, mut json, mut target, mut file) = (None, None, None, None, None);
        let mut only_files = false;
        while let Some(word) = words.next() {
            let option = word.to_str().filter(|word| !only_files && word.starts_with('-'));
            let slot = match option {
                Some("--") => {
                    only_files = true;
                    continue;
                }
                Some("--plugin") => &mut plugin,
                Some("--out") => &mut out,
                Some("--json") => &mut json,
                Some("--target") => &mut target,
                Some(other) => return Err(usage(&format!("there is no option \"{other}\""))),
                None if file.is_none() => {
                    file = Some(PathBuf::from(word));
                    continue;
                }
                None => {
                    let second = word.to_string_lossy();
                    return Err(usage(&format!("one file at a time, not also \"{second}\"")));
                }
            };
            let value = words.next();
            let name = word.to_string_lossy();
            *slot = Some(value.ok_or_else(|| usage(&format!("{name} needs a value")))?);
        }
        let needed = |value: Option<OsString>, name| {
            value.map(PathBuf::from).ok_or_else(|| usage(&format!("{name} is missing")))
        };
        Ok(Self {
            plugin: needed(plugin, "--plugin")?,
            out: needed(out, "--out")?,
            json: json.map(PathBuf::from),
            target: target.map(|name| name.to_string_lossy().into_owned()),
            file,
        })
    }
}

fn usage(what: &str) -> Failure {
    Failure::Usage(format!("{what} ({USAGE})"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parsed(line: &str) -> Result<Options, Failure> {
        Options::parse(line.split_whitespace().map(OsString::from))
    }

    #[test]
    fn a_file_after_two_dashes_may_begin_with_a_dash() {
        let options = parsed("--plugin p.clap --out o -- -song.wav").unwrap();
        assert_eq!(options.file, Some(PathBuf::from("-song.wav")));
        assert_eq!(options.plugin, PathBuf::from("p.clap"));
    }

    #[test]
    fn mistakes_are_refused() {
        for line in [
            "",
            "--plugin p",
            "--out o",
            "--plugin p --out o --loud",
            "--plugin p --out o a.wav b.wav",
            "--plugin p --out",
        ] {
            assert!(matches!(parsed(line), Err(Failure::Usage(_))), "{line}");
        }
    }
}

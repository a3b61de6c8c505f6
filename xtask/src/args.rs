//! The command line.

use std::ffi::OsString;
use std::fmt;
use std::path::PathBuf;

use crate::cargo::Profile;
use crate::demo::DemoOptions;

/// What `help` prints, and what follows a mistake.
pub(crate) const USAGE: &str = "\
Usage: cargo xtask COMMAND

  demo [FILE]      build the plugin, play a song through it in a host, print what it measures
                   FILE: WAV, FLAC or Ogg Vorbis; without it the demo song is rendered
      --target N   the delivery target to compare with; a wrong name lists them all
      --json OUT   also write every figure, unrounded, to the file OUT
      --out DIR    folder for the picture and the rendered song (default: target/demo)
  check ARGS       build the headless check and run it; check --help says what it takes
  compare ARGS     the same for two versions of a file
  bench            how fast it is, beside the libraries that are installed; minutes
  pictures         draw the pictures of README and manual anew
  hosts            the plugin in real hosts: installs them (Debian, as root), plays, saves,
                   reopens; minutes
  test [-- ARGS]   formatting, lints, the bundle, every test; ARGS go to `cargo test`
  licences DIR     write the licence texts of what is linked in to the folder DIR
  release          what is committed as an archive to hand on: tests, two builds that must be
                   the same, checksums; stops where a person must act
  bundle           build the plugin and say where the bundles are (CLAP and VST3)
      --debug      with debug assertions
      --universal  for both processors of Macs (on a Mac; needs both targets of rustup)
  install          build the plugin and copy it to your CLAP and VST3 folders
      --to DIR     copy both to DIR instead
  help             this text";

/// A command with its options.
#[derive(Debug, PartialEq)]
pub(crate) enum Command {
    /// Print the usage.
    Help,
    /// Build and bundle.
    Bundle {
        /// How to build.
        profile: Profile,
        /// For both processors of Macs.
        universal: bool,
    },
    /// Bundle and copy where hosts look.
    Install {
        /// Another folder than the user's CLAP folder.
        to: Option<PathBuf>,
    },
    /// Play a song through the built plugin.
    Demo(DemoOptions),
    /// Check or compare files without the plugin.
    Check {
        /// What the program is to do: `check` or `compare`.
        subcommand: &'static str,
        /// Passed on to the program.
        words: Vec<OsString>,
    },
    /// Measure speed.
    Bench,
    /// Draw the pictures of README and manual.
    Pictures,
    /// Run the plugin in real hosts.
    Hosts,
    /// The licence texts of what is linked in.
    Licences {
        /// The folder that they are written to.
        to: PathBuf,
    },
    /// An archive to hand on.
    Release,
    /// Everything that CI runs.
    Test {
        /// Passed on to `cargo test`.
        runner_args: Vec<OsString>,
    },
}

/// A command line that means nothing.
#[derive(Debug, PartialEq)]
pub(crate) enum ArgsError {
    UnknownCommand(String),
    UnknownOption { command: String, option: String },
    Unexpected { command: String, word: String },
    MissingValue { command: String, option: String },
    MissingFolder { command: String },
    Repeated { command: String, option: String },
}

impl fmt::Display for ArgsError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UnknownCommand(word) => write!(f, "there is no command \"{word}\""),
            Self::UnknownOption { command, option } => {
                write!(f, "{command} has no option \"{option}\"")
            }
            Self::Unexpected { command, word } => {
                write!(f, "{command} does not know what to do with \"{word}\"")
            }
            Self::MissingValue { command, option } => {
                write!(f, "{command}: {option} needs a value after it")
            }
            Self::MissingFolder { command } => write!(f, "{command} needs a folder after it"),
            Self::Repeated { command, option } => {
                write!(f, "{command}: {option} is given twice")
            }
        }
    }
}

/// The words of one command, read from the left.
struct Words<I> {
    command: String,
    rest: I,
}

impl<I: Iterator<Item = OsString>> Words<I> {
    /// Puts the value of `option` into `slot`.
    fn value(&mut self, option: &str, slot: &mut Option<OsString>) -> Result<(), ArgsError> {
        let (command, option) = (self.command.clone(), option.to_owned());
        match self.rest.next() {
            None => Err(ArgsError::MissingValue { command, option }),
            Some(_) if slot.is_some() => Err(ArgsError::Repeated { command, option }),
            Some(value) => {
                *slot = Some(value);
                Ok(())
            }
        }
    }

    fn refuse(&self, word: &OsString) -> ArgsError {
        let command = self.command.clone();
        let word = word.to_string_lossy().into_owned();
        if word.starts_with('-') {
            ArgsError::UnknownOption { command, option: word }
        } else {
            ArgsError::Unexpected { command, word }
        }
    }
}

/// Reads the words after `cargo xtask`.
pub(crate) fn parse(words: impl IntoIterator<Item = OsString>) -> Result<Command, ArgsError> {
    let mut rest = words.into_iter();
    let Some(first) = rest.next() else {
        return Ok(Command::Help);
    };
    let command = first.to_string_lossy().into_owned();
    let mut words = Words { command, rest };
    match words.command.as_str() {
        "help" | "--help" | "-h" => Ok(Command::Help),
        "bundle" => bundle(&mut words),
        "install" => install(&mut words),
        "demo" => demo(&mut words),
        "check" => Ok(Command::Check { subcommand: "check", words: words.rest.collect() }),
        "compare" => Ok(Command::Check { subcommand: "compare", words: words.rest.collect() }),
        "bench" => alone(&mut words, Command::Bench),
        "pictures" => alone(&mut words, Command::Pictures),
        "hosts" => alone(&mut words, Command::Hosts),
        "licences" => licences(&mut words),
        "release" => alone(&mut words, Command::Release),
        "test" => match words.rest.next() {
            None => Ok(Command::Test { runner_args: Vec::new() }),
            Some(word) if word == "--" => Ok(Command::Test { runner_args: words.rest.collect() }),
            Some(word) if asks_for_help(&word) => Ok(Command::Help),
            Some(word) => Err(words.refuse(&word)),
        },
        _ => Err(ArgsError::UnknownCommand(words.command)),
    }
}

/// A command without options.
fn alone(
    words: &mut Words<impl Iterator<Item = OsString>>,
    command: Command,
) -> Result<Command, ArgsError> {
    match words.rest.next() {
        None => Ok(command),
        Some(word) if asks_for_help(&word) => Ok(Command::Help),
        Some(word) => Err(words.refuse(&word)),
    }
}

fn asks_for_help(word: &OsString) -> bool {
    word == "--help" || word == "-h"
}

fn bundle(words: &mut Words<impl Iterator<Item = OsString>>) -> Result<Command, ArgsError> {
    let (mut profile, mut universal) = (Profile::Release, false);
    while let Some(word) = words.rest.next() {
        match word.to_str() {
            Some("--debug") => profile = Profile::Debug,
            Some("--universal") => universal = true,
            _ if asks_for_help(&word) => return Ok(Command::Help),
            _ => return Err(words.refuse(&word)),
        }
    }
    Ok(Command::Bundle { profile, universal })
}

fn install(words: &mut Words<impl Iterator<Item = OsString>>) -> Result<Command, ArgsError> {
    let mut to = None;
    while let Some(word) = words.rest.next() {
        match word.to_str() {
            Some("--to") => words.value("--to", &mut to)?,
            _ if asks_for_help(&word) => return Ok(Command::Help),
            _ => return Err(words.refuse(&word)),
        }
    }
    let to = to.map(PathBuf::from);
    Ok(Command::Install { to })
}

fn licences(words: &mut Words<impl Iterator<Item = OsString>>) -> Result<Command, ArgsError> {
    match words.rest.next() {
        None => Err(ArgsError::MissingFolder { command: words.command.clone() }),
        Some(word) if asks_for_help(&word) => Ok(Command::Help),
        Some(word) if word.to_string_lossy().starts_with('-') => Err(words.refuse(&word)),
        Some(to) => alone(words, Command::Licences { to: PathBuf::from(to) }),
    }
}

fn demo(words: &mut Words<impl Iterator<Item = OsString>>) -> Result<Command, ArgsError> {
    let (mut file, mut json, mut out, mut target) = (None, None, None, None);
    while let Some(word) = words.rest.next() {
        match word.to_str() {
            Some("--json") => words.value("--json", &mut json)?,
            Some("--out") => words.value("--out", &mut out)?,
            Some("--target") => words.value("--target", &mut target)?,
            _ if asks_for_help(&word) => return Ok(Command::Help),
            Some(option) if option.starts_with('-') => return Err(words.refuse(&word)),
            _ if file.is_none() => file = Some(PathBuf::from(word)),
            _ => return Err(words.refuse(&word)),
        }
    }
    Ok(Command::Demo(DemoOptions {
        file,
        json: json.map(PathBuf::from),
        out: out.map(PathBuf::from),
        target,
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parsed(line: &str) -> Result<Command, ArgsError> {
        parse(line.split_whitespace().map(OsString::from))
    }

    fn refusal(line: &str) -> String {
        parsed(line).unwrap_err().to_string()
    }

    #[test]
    fn nothing_at_all_and_every_cry_for_help_print_the_usage() {
        for line in
            ["", "help", "--help", "demo --help", "test -h", "install -h", "hosts -h", "release -h"]
        {
            assert_eq!(parsed(line), Ok(Command::Help), "{line}");
        }
    }

    #[test]
    fn demo_takes_one_file_and_its_options_in_any_order() {
        let expected = Command::Demo(DemoOptions {
            file: Some(PathBuf::from("a.wav")),
            json: Some(PathBuf::from("b.json")),
            out: Some(PathBuf::from("c")),
            target: None,
        });
        assert_eq!(parsed("demo a.wav --json b.json --out c"), Ok(expected));
        assert!(parsed("demo --out c --json b.json a.wav").is_ok());
    }

    #[test]
    fn a_bundle_is_the_release_build_for_this_processor_unless_told_otherwise() {
        let bundle = |profile, universal| Ok(Command::Bundle { profile, universal });
        assert_eq!(parsed("bundle"), bundle(Profile::Release, false));
        assert_eq!(parsed("bundle --universal"), bundle(Profile::Release, true));
        assert_eq!(parsed("bundle --universal --debug"), bundle(Profile::Debug, true));
    }

    #[test]
    fn everything_behind_check_and_compare_is_the_programs() {
        let words = ["a.wav", "--target", "x", "--help"].map(OsString::from).to_vec();
        let expected = Ok(Command::Check { subcommand: "check", words });
        assert_eq!(parsed("check a.wav --target x --help"), expected);
        let words = ["a.wav", "b.wav"].map(OsString::from).to_vec();
        let expected = Ok(Command::Check { subcommand: "compare", words });
        assert_eq!(parsed("compare a.wav b.wav"), expected);
    }

    #[test]
    fn what_follows_two_dashes_goes_to_the_test_runner() {
        let expected =
            Command::Test { runner_args: vec![OsString::from("--test"), OsString::from("cases")] };
        assert_eq!(parsed("test -- --test cases"), Ok(expected));
    }

    #[test]
    fn mistakes_are_named() {
        assert_eq!(refusal("dmeo"), "there is no command \"dmeo\"");
        assert_eq!(refusal("hosts --all"), "hosts has no option \"--all\"");
        assert_eq!(refusal("bundle --fast"), "bundle has no option \"--fast\"");
        assert_eq!(refusal("demo a.wav b.wav"), "demo does not know what to do with \"b.wav\"");
        assert_eq!(refusal("demo --json"), "demo: --json needs a value after it");
        assert_eq!(refusal("licences"), "licences needs a folder after it");
        assert_eq!(refusal("licences a b"), "licences does not know what to do with \"b\"");
        assert_eq!(refusal("licences --all"), "licences has no option \"--all\"");
        assert_eq!(refusal("install --to a --to b"), "install: --to is given twice");
    }
}

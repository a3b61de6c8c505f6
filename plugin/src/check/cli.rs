//! The command line.

use super::outputs::Outputs;
use super::progress::Progress;
use super::style::Style;
use super::{CheckError, Options, Status, check, find_target, folder, page, sections, to_text};
use crate::target::{Target, built_in_targets};
use clap::{Args, Parser, Subcommand};
use clap_complete::Shell;
use plimsoll_encoder::Encoding;
use std::ffi::OsString;
use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Measures an audio file as the Plimsoll plugin measures a song.
#[derive(Debug, Parser)]
#[command(name = "plimsoll", version, about, max_term_width = 100)]
pub struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Check files before they are handed over: loudness, peaks, targets, and what a recipient
    /// would send back
    Check(Box<CheckArgs>),
    /// List the built-in targets with their documents
    Targets,
    /// Write the completions for a shell to the standard output
    #[command(hide = true)]
    Completions {
        /// The shell
        shell: Shell,
    },
    /// Write the manual page to the standard output
    #[command(hide = true)]
    Manual,
}

/// What stands behind the options in the help and in the manual.
const EXIT_STATUS: &str = "\
Exit status: 0 if every file is within every target, 1 if one is not, 2 if one could not be \
measured or is too short or too quiet to say.

Read are WAV, RF64, BW64 and Wave64 (PCM of 8 to 32 bits, float of 32 and 64), AIFF and AIFF-C, \
FLAC, and for listening to what came back MP3, AAC and ALAC in MP4, ADTS, Ogg Vorbis, Ogg Opus (mono and stereo), and CAF. Peaks over full scale in them are measured \
as they are.

After a lossy encode: Vorbis is encoded by libvorbis (variable bit rate, 160 kbit/s unless stated), \
Opus by libopus (variable, 128), MP3 by LAME (constant, 256; only in a build with the feature \
\"mp3\"); mono has half the bit rate, MP3 no less than 64. AAC is not encoded: there is no encoder of quality with a free \
licence as a library. The sound is encoded at 44.1 kHz if its rate is that or a multiple or part of \
it, else at 48 kHz, Opus always at 48 kHz; resampling moves peaks too, and what it did is told. \
A recipient's own encoder may differ.";

#[derive(Debug, Args)]
#[command(after_help = EXIT_STATUS)]
struct CheckArgs {
    /// Audio files, or folders of them; several are one release
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// The target: the name of a built-in one, enough of it, or a JSON file of targets
    #[arg(long, value_name = "NAME|FILE")]
    target: Option<String>,
    /// A further target to compare with; may be given several times
    #[arg(long, value_name = "NAME|FILE")]
    against: Vec<String>,
    /// A list of sections, a line each: time and name; without it the file's own markers
    /// (WAV, AIFF)
    #[arg(long, value_name = "LIST")]
    sections: Option<PathBuf>,
    /// Leave out the second reading, which takes most of the time
    #[arg(long)]
    one_reading: bool,
    /// Encode the file with loss, decode it and tell the loudness and the true peak that arrive,
    /// and whether the ceilings still hold; it takes longer than all the rest and is no part of
    /// the exit status. Without LIST every code of this build; in LIST vorbis, opus and mp3, each
    /// with a bit rate if wanted, as in opus:96,vorbis
    #[arg(long, value_name = "LIST", num_args = 0..=1, require_equals = true)]
    #[arg(default_missing_value = "")]
    after_encode: Option<String>,
    #[command(flatten)]
    outputs: Outputs,
    /// Print nothing but errors: the exit status says it
    #[arg(long, short)]
    quiet: bool,
}

/// Runs the program.
#[must_use]
pub fn run(words: impl IntoIterator<Item = OsString>) -> ExitCode {
    quiet_panics_of_decoders();
    let cli = match Cli::try_parse_from(words) {
        Ok(cli) => cli,
        Err(error) => {
            // A terminal that is gone is no reason for another error.
            let _ = error.print();
            return ExitCode::from(if error.use_stderr() { 2 } else { 0 });
        }
    };
    let out = &mut io::stdout().lock();
    let outcome = match cli.command {
        Command::Check(args) => run_check(&args, out),
        Command::Targets => written(list_targets(out)),
        Command::Completions { shell } => written(page::completions(shell, out)),
        Command::Manual => written(page::manual(out)),
    };
    match outcome {
        Ok(status) => ExitCode::from(status.exit_code()),
        Err(line) => {
            let _ = writeln!(io::stderr(), "plimsoll: {line}");
            ExitCode::from(Status::NotMeasured.exit_code())
        }
    }
}

/// Runs a check; the error is one finished line.
fn run_check(args: &CheckArgs, out: &mut impl Write) -> Result<Status, String> {
    let options = options(args)?;
    let files = folder::expand(&args.files)?;
    let lists = args.target.iter().chain(&args.against).map(Path::new);
    let inputs = files.iter().map(PathBuf::as_path).chain(lists).chain(args.sections.as_deref());
    args.outputs.check(&inputs.collect::<Vec<_>>())?;
    let progress = Progress::new(files.len(), !args.quiet);
    let report = check(&files, &options, &|file, share| progress.tell(file, share));
    progress.end();

    for track in &report.tracks {
        if let Err(error) = &track.outcome {
            let _ = writeln!(io::stderr(), "plimsoll: {}: {error}", track.path.display());
        }
    }
    let text = match args.outputs.write(&report).map_err(|error| error.to_string())? {
        Some(told) => told,
        None if args.quiet => String::new(),
        None => to_text(&report, Style::of(io::stdout().is_terminal())),
    };
    written(out.write_all(text.as_bytes()))?;
    Ok(report.status())
}

fn options(args: &CheckArgs) -> Result<Options, String> {
    let mut targets: Vec<Target> = Vec::new();
    for wanted in args.target.iter().chain(&args.against) {
        let found = find_target(wanted).map_err(|error| CheckError::Target(error).to_string())?;
        for target in found {
            if !targets.contains(&target) {
                targets.push(target);
            }
        }
    }
    if targets.is_empty() {
        targets.extend(built_in_targets().into_iter().take(1));
    }
    let sections = args.sections.as_deref().map(|path| {
        sections::read_list(path).map_err(|error| format!("{}: {error}", path.display()))
    });
    let encodings = match args.after_encode.as_deref() {
        None => Vec::new(),
        Some("") => Encoding::all(),
        Some(list) => list
            .split(',')
            .map(|wish| {
                wish.parse::<Encoding>().map_err(|error| format!("--after-encode: {error}"))
            })
            .collect::<Result<_, String>>()?,
    };
    let sections = sections.transpose()?;
    let with_snapshot = args.outputs.has_page();
    Ok(Options { targets, sections, with_snapshot, one_reading: args.one_reading, encodings })
}

fn list_targets(out: &mut impl Write) -> io::Result<()> {
    for target in built_in_targets() {
        writeln!(out, "{}\n    {}\n    {}", target.name, target.summary(), target.source)?;
    }
    Ok(())
}

/// A pipe that was closed by whoever read it is the end, not an error.
fn written(outcome: io::Result<()>) -> Result<Status, String> {
    match outcome {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(format!("the standard output cannot be written: {error}"))
        }
        _ => Ok(Status::Within),
    }
}

/// What panics in a decoder is told in one line as a fault of the file.
fn quiet_panics_of_decoders() {
    let before = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |info| {
        if !plimsoll_reader::is_in_decoder() {
            before(info);
        }
    }));
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_consistent() {
        Cli::command().debug_assert();
    }

    #[test]
    fn completions_and_manual_know_the_options() {
        let mut bash = Vec::new();
        page::completions(Shell::Bash, &mut bash).unwrap();
        let bash = String::from_utf8(bash).unwrap();
        let mut manual = Vec::new();
        page::manual(&mut manual).unwrap();
        let manual = String::from_utf8(manual).unwrap();
        for option in [
            "against",
            "sections",
            "one-reading",
            "after-encode",
            "json",
            "csv",
            "html",
            "replace",
            "quiet",
        ] {
            assert!(bash.contains(&format!("--{option}")), "{option}");
            assert!(manual.replace('\\', "").contains(&format!("--{option}")), "{option}");
        }
        assert!(manual.contains("Exit status"), "{manual}");
    }
}

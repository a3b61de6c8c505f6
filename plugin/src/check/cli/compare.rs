//! `plimsoll compare` on the command line.

use super::written;
use crate::check::compare::{Comparison, compare};
use crate::check::outputs::{check_output, is_standard_output};
use crate::check::progress::Progress;
use crate::check::style::Style;
use crate::check::{Status, compared_to_json, compared_to_text, sections};
use crate::snapshot::{Existing, write_files};
use clap::Args;
use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// What stands behind the options in the help and in the manual.
const LIMITS: &str = "\
NEW is aligned with OLD by correlation, to parts of a sample, and told are: how much later the song \
begins in it, what is missing or added at either end, gain, swapped channels, polarity, a lost \
channel, edits, limiting that went or came, the stretches in which it differs and those in which \
only the level does, and the changes of tone and width at equal loudness. The null is what is left \
of NEW less OLD when offset, gain, swap and polarity are taken away. Files of other rates are \
compared at the lower one, mono with the mid of stereo; other channel counts by their figures alone.

What is left counts as nothing up to -80 dB below the song, or up to one step of the bits that the \
coarser file uses, whichever is more: rounding and plain dither leave less, shaped dither can leave \
more. A gain counts from 0.001 dB. Peaks are called limited where 10 times 10 ms and more stand \
within 0.2 dB of the highest, four times as many as in the other file, and peak to loudness differs \
by 0.5 LU. Tone and width count from 0.5 dB. It is the same recording if at least half of up to 12 \
loud seconds of OLD go together with NEW at one lag. These limits are the project's own choice.

Exit status: 0 if both are the same within these limits, 1 if they differ, 2 if one could not be \
measured.";

#[derive(Debug, Args)]
#[command(after_help = LIMITS)]
pub struct CompareArgs {
    /// The version to compare with: the one that was meant, or an earlier one
    #[arg(value_name = "OLD")]
    old: PathBuf,
    /// The version to look at: the file that is to be handed over
    #[arg(value_name = "NEW")]
    new: PathBuf,
    /// A list of sections in the song time of OLD, a line each: time and name; without it OLD's
    /// own markers (WAV, AIFF)
    #[arg(long, value_name = "LIST")]
    sections: Option<PathBuf>,
    /// Write every figure, unrounded, as JSON to the file OUT; "-" is the standard output, in place
    /// of the text
    #[arg(long, value_name = "OUT")]
    json: Option<PathBuf>,
    /// Replace the file OUT if it is there already; the files that are compared never are
    #[arg(long)]
    replace: bool,
    /// Print nothing but errors: the exit status says it
    #[arg(long, short)]
    quiet: bool,
}

/// Compares; the error is one finished line.
pub fn run(args: &CompareArgs, out: &mut impl Write) -> Result<Status, String> {
    let json = args.json.as_deref();
    let to_stdout = json.is_some_and(is_standard_output);
    if let Some(path) = json.filter(|_| !to_stdout) {
        let inputs: Vec<&Path> = [&args.old, &args.new]
            .into_iter()
            .chain(&args.sections)
            .map(PathBuf::as_path)
            .collect();
        check_output("--json", path, &inputs, args.replace)?;
    }
    let markers = args.sections.as_deref().map(sections::read_list).transpose();
    let list = args.sections.as_deref().unwrap_or(Path::new(""));
    let markers = markers.map_err(|error| format!("{}: {error}", list.display()))?;
    let progress = Progress::new(1, !args.quiet);
    let compared =
        compare([&args.old, &args.new], markers.as_deref(), &|share| progress.tell(0, share));
    progress.end();
    let compared = compared.map_err(|not| format!("{}: {}", not.path.display(), not.error))?;
    if let Some(path) = json {
        let text = compared_to_json(&compared);
        if to_stdout {
            written(out.write_all(text.as_bytes()))?;
        } else {
            let existing = if args.replace { Existing::Replace } else { Existing::Keep };
            write_files(vec![(path.to_owned(), text)], existing)
                .map_err(|error| error.to_string())?;
        }
    }
    if !args.quiet && !to_stdout {
        let style = Style::of(io::stdout().is_terminal());
        written(out.write_all(compared_to_text(&compared, style).as_bytes()))?;
    }
    Ok(status(&compared))
}

/// The same or not, as an exit status.
fn status(compared: &Comparison) -> Status {
    if compared.findings().is_empty() { Status::Within } else { Status::NotWithin }
}

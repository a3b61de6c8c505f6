//! `plimsoll check`: an exported file through the same meters as the plugin's.

use std::process::ExitCode;

fn main() -> ExitCode {
    plimsoll::check::cli::run(std::env::args_os())
}

//! Manual page and shell completions, made out of the command line's own description.

use super::cli::Cli;
use clap::CommandFactory;
use clap_complete::Shell;
use std::io::Write;

/// Writes the completions for `shell`.
///
/// # Errors
/// `out` cannot be written.
pub fn completions(shell: Shell, out: &mut impl Write) -> std::io::Result<()> {
    let mut bytes = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "plimsoll", &mut bytes);
    out.write_all(&bytes)
}

/// Writes the manual page: the program's and those of `check` and `compare`.
///
/// # Errors
/// `out` cannot be written.
pub fn manual(out: &mut impl Write) -> std::io::Result<()> {
    let mut command = Cli::command();
    command.build();
    clap_mangen::Man::new(command.clone()).render(out)?;
    for subcommand in ["check", "compare"].map(|name| command.find_subcommand(name)) {
        let Some(subcommand) = subcommand else { continue };
        let man = clap_mangen::Man::new(subcommand.clone());
        man.render_synopsis_section(out)?;
        man.render_options_section(out)?;
        man.render_extra_section(out)?;
    }
    Ok(())
}

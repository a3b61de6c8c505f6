//! The project's commands: `cargo xtask help` lists them.
//!
//! Does not link the plugin, so that it compiles in seconds:
//! args → cargo (build) → bundle → universal, install, demo (pictures), check, bench, hosts, test,
//! licences → release.

mod args;
mod bench;
mod bundle;
mod cargo;
mod check;
mod demo;
mod failure;
mod hosts;
mod install;
mod licences;
mod packages;
mod pictures;
mod release;
mod test;
mod universal;

use std::process::ExitCode;

use args::Command;
use failure::Failure;

fn main() -> ExitCode {
    let words = std::env::args_os().skip(1);
    let command = match args::parse(words) {
        Ok(command) => command,
        Err(error) => {
            eprintln!("cargo xtask: {error}\n\n{}", args::USAGE);
            return ExitCode::from(2);
        }
    };
    match run(&command) {
        Ok(()) => ExitCode::SUCCESS,
        // The child has said what is wrong; its exit status is ours.
        Err(Failure::Child { status, .. }) => ExitCode::from(status),
        Err(failure) => {
            eprintln!("cargo xtask: {failure}");
            ExitCode::FAILURE
        }
    }
}

fn run(command: &Command) -> Result<(), Failure> {
    match command {
        Command::Help => {
            println!("{}", args::USAGE);
            Ok(())
        }
        Command::Bundle { profile, universal } => {
            let build = if *universal { universal::build } else { bundle::build };
            let bundles = build(*profile)?;
            println!("{}\n{}", bundles.clap.display(), bundles.vst3.display());
            Ok(())
        }
        Command::Install { to } => install::run(to.as_deref()),
        Command::Demo(options) => demo::run(options),
        Command::Check { subcommand, words } => check::run(subcommand, words),
        Command::Bench => bench::run(),
        Command::Pictures => pictures::run(),
        Command::Hosts => hosts::run(),
        Command::Licences { to } => licences::run(to),
        Command::Release => release::run(),
        Command::Test { runner_args } => test::run(runner_args),
    }
}

//! `cargo xtask demo`: builds plugin and demo program, and runs the one in the other.

use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::{fs, io};

use crate::bundle;
use crate::cargo::{self, Profile};
use crate::failure::Failure;

/// The options of the demo.
#[derive(Debug, PartialEq)]
pub(crate) struct DemoOptions {
    /// The user's own song; the demo song is rendered without it.
    pub file: Option<PathBuf>,
    /// Where to write every figure.
    pub json: Option<PathBuf>,
    /// Folder for what is written.
    pub out: Option<PathBuf>,
    /// Name of the delivery target.
    pub target: Option<OsString>,
}

/// Builds and runs the demo program; its output and exit status are ours.
pub(crate) fn run(options: &DemoOptions) -> Result<(), Failure> {
    // The demo program reads the file; a name that is mistyped should not cost a build of minutes.
    if let Some(file) = &options.file {
        check_file(file)?;
    }
    eprintln!("Building the plugin and the host that plays it (the first time takes minutes) …");
    let built = cargo::build(Profile::Release)?;
    let bundle = bundle::write(&built, Profile::Release)?.clap;
    let Some(program) = built.demo_program else {
        return Err(Failure::Rule(
            "cargo built no program \"demo\"; tests/Cargo.toml must list it".to_owned(),
        ));
    };
    let out = match &options.out {
        Some(out) => out.clone(),
        None => cargo::target_directory()?.join("demo"),
    };
    let mut demo = Command::new(program);
    demo.arg("--plugin").arg(bundle).arg("--out").arg(out);
    if let Some(json) = &options.json {
        demo.arg("--json").arg(json);
    }
    if let Some(target) = &options.target {
        demo.arg("--target").arg(target);
    }
    if let Some(file) = &options.file {
        demo.arg("--").arg(file);
    }
    cargo::run(&mut demo)
}

fn check_file(file: &Path) -> Result<(), Failure> {
    const RULE: &str = "the demo reads one WAV, FLAC or Ogg Vorbis file";
    let wrong = match fs::metadata(file) {
        Ok(found) if found.is_file() => return Ok(()),
        Ok(_) => "not a file".to_owned(),
        Err(error) if error.kind() == io::ErrorKind::NotFound => "no such file".to_owned(),
        Err(error) => error.to_string(),
    };
    Err(Failure::Rule(format!("{}: {wrong}; {RULE}", file.display())))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_is_not_there_is_named_with_the_rule() {
        let message = check_file(Path::new("no/such.wav")).unwrap_err().to_string();
        assert!(message.starts_with("no/such.wav: no such file; "), "{message}");
        assert!(check_file(&std::env::temp_dir()).is_err());
        assert!(check_file(&std::env::current_exe().unwrap()).is_ok());
    }
}

//! Copies the bundle to where hosts look for CLAP plugins.

use std::path::{Path, PathBuf};

use crate::bundle;
use crate::cargo::Profile;
use crate::failure::Failure;

/// Builds, bundles, copies to `to` or to the user's CLAP folder, and says where.
pub(crate) fn run(to: Option<&Path>) -> Result<(), Failure> {
    // First, so that a machine without such a folder hears of it before a build of minutes.
    let folder = match to {
        Some(folder) => folder.to_owned(),
        None => user_clap_folder(|name| std::env::var_os(name).map(PathBuf::from))?,
    };
    eprintln!("Building (the first time takes some minutes) …");
    let bundle = bundle::build(Profile::Release)?;
    let copy = bundle::copy_into(&bundle, &folder)?;
    println!("Installed: {}", copy.display());
    if to.is_some() {
        println!("Hosts look there if you tell them to, or if CLAP_PATH names the folder.");
    } else {
        println!("Let your host scan for plugins, then put Plimsoll last on the master bus.");
    }
    Ok(())
}

/// The per-user folder that every CLAP host searches (clap/entry.h, from memory). `CLAP_PATH` adds
/// folders for hosts to search and replaces none, so it changes nothing here.
fn user_clap_folder(variable: impl Fn(&str) -> Option<PathBuf>) -> Result<PathBuf, Failure> {
    let (base, below): (&str, &[&str]) = if cfg!(target_os = "windows") {
        // The per-machine folder, %COMMONPROGRAMFILES%\CLAP, needs an administrator.
        ("LOCALAPPDATA", &["Programs", "Common", "CLAP"])
    } else if cfg!(target_os = "macos") {
        ("HOME", &["Library", "Audio", "Plug-Ins", "CLAP"])
    } else {
        ("HOME", &[".clap"])
    };
    match variable(base).filter(|folder| folder.is_absolute()) {
        Some(folder) => Ok(below.iter().fold(folder, |path, part| path.join(part))),
        None => Err(Failure::Rule(format!(
            "the variable {base} must name your home folder with its whole path; \
             or say where to install: cargo xtask install --to DIR"
        ))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_folder_lies_below_the_users_own() {
        let home = std::env::temp_dir();
        let folder = user_clap_folder(|_| Some(home.clone())).unwrap();
        assert!(folder.starts_with(&home));
        assert!(folder.ends_with(if cfg!(unix) && !cfg!(target_os = "macos") {
            ".clap"
        } else {
            "CLAP"
        }));
    }

    #[test]
    fn without_a_home_the_message_says_what_to_do() {
        for home in [None, Some(PathBuf::new()), Some(PathBuf::from("relative"))] {
            let failure = user_clap_folder(|_| home.clone()).unwrap_err();
            assert!(failure.to_string().contains("--to DIR"));
        }
    }
}

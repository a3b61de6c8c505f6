//! Copies the bundles to where hosts look for CLAP and for VST3 plugins.

use std::path::{Path, PathBuf};

use crate::bundle;
use crate::cargo::Profile;
use crate::failure::Failure;

/// Builds, bundles, copies both to `to` or each to the user's folder for its kind, and says where.
pub(crate) fn run(to: Option<&Path>) -> Result<(), Failure> {
    // First, so that a machine without such folders hears of it before a build of minutes.
    let [clap, vst3] = match to {
        Some(folder) => [folder.to_owned(), folder.to_owned()],
        None => user_folders(|name| std::env::var_os(name).map(PathBuf::from))?,
    };
    eprintln!("Building (the first time takes some minutes) …");
    let bundles = bundle::build(Profile::Release)?;
    for (bundle, folder) in [(&bundles.clap, &clap), (&bundles.vst3, &vst3)] {
        println!("Installed: {}", bundle::copy_into(bundle, folder)?.display());
    }
    if to.is_some() {
        println!("Hosts look there if you tell them to, or if CLAP_PATH names the folder.");
    } else {
        println!("Let your host scan for plugins, then put Plimsoll last on the master bus.");
    }
    Ok(())
}

/// The per-user folders that every host of CLAP (clap/entry.h) and of VST3 (VST 3 plug-in
/// locations) searches, both from memory. `CLAP_PATH` adds folders for hosts to search and replaces
/// none, so it changes nothing here.
fn user_folders(variable: impl Fn(&str) -> Option<PathBuf>) -> Result<[PathBuf; 2], Failure> {
    let (base, below): (&str, [&[&str]; 2]) = if cfg!(target_os = "windows") {
        // The per-machine folders below %COMMONPROGRAMFILES% need an administrator.
        ("LOCALAPPDATA", [&["Programs", "Common", "CLAP"], &["Programs", "Common", "VST3"]])
    } else if cfg!(target_os = "macos") {
        (
            "HOME",
            [&["Library", "Audio", "Plug-Ins", "CLAP"], &["Library", "Audio", "Plug-Ins", "VST3"]],
        )
    } else {
        ("HOME", [&[".clap"], &[".vst3"]])
    };
    match variable(base).filter(|folder| folder.is_absolute()) {
        Some(folder) => {
            Ok(below.map(|below| below.iter().fold(folder.clone(), |path, part| path.join(part))))
        }
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
    fn the_folders_lie_below_the_users_own() {
        let home = std::env::temp_dir();
        let folders = user_folders(|_| Some(home.clone())).unwrap();
        let names = if cfg!(unix) && !cfg!(target_os = "macos") {
            [".clap", ".vst3"]
        } else {
            ["CLAP", "VST3"]
        };
        for (folder, name) in folders.iter().zip(names) {
            assert!(folder.starts_with(&home) && folder.ends_with(name), "{folder:?}");
        }
    }

    #[test]
    fn without_a_home_the_message_says_what_to_do() {
        for home in [None, Some(PathBuf::new()), Some(PathBuf::from("relative"))] {
            let failure = user_folders(|_| home.clone()).unwrap_err();
            assert!(failure.to_string().contains("--to DIR"));
        }
    }
}

//! One macOS bundle for both processors: a build for each, put together by `lipo`.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::bundle::{self, Bundles};
use crate::cargo::{self, Built, Profile};
use crate::failure::Failure;

/// The compiler's names of both, and `lipo`'s.
const PROCESSORS: [(&str, &str); 2] =
    [("aarch64-apple-darwin", "arm64"), ("x86_64-apple-darwin", "x86_64")];

/// Builds the plugin for both processors and writes the bundles.
pub(crate) fn build(profile: Profile) -> Result<Bundles, Failure> {
    if !cfg!(target_os = "macos") {
        return Err(Failure::Rule(
            "bundle --universal is for macOS, on a Mac: it needs Apple's linker, lipo and codesign"
                .to_owned(),
        ));
    }
    let mut libraries = Vec::new();
    for (target, _) in PROCESSORS {
        libraries.push(cargo::build_library_for(target, profile)?.plugin_library.ok_or_else(
            || {
                Failure::Rule(format!(
                    "cargo built no plugin for {target} (rustup target add {target})"
                ))
            },
        )?);
    }
    let folder = cargo::target_directory()?.join("universal");
    fs::create_dir_all(&folder).map_err(Failure::io("create", &folder))?;
    let library = folder.join("libplimsoll.dylib");
    cargo::run(&mut join(&libraries, &library))?;
    cargo::run(&mut verify(&library))?;
    let built = Built { plugin_library: Some(library), ..Built::default() };
    bundle::write_into(&built, &bundle::folder(profile, "-universal")?)
}

/// One library that holds all of `libraries`.
fn join(libraries: &[PathBuf], library: &Path) -> Command {
    let mut lipo = Command::new("lipo");
    lipo.arg("-create").arg("-output").arg(library).args(libraries);
    lipo
}

/// Fails unless `library` holds both processors' code.
fn verify(library: &Path) -> Command {
    let mut lipo = Command::new("lipo");
    lipo.arg(library).arg("-verify_arch").args(PROCESSORS.map(|(_, name)| name));
    lipo
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(command: &Command) -> String {
        let words = command.get_args().map(|word| word.to_string_lossy().into_owned());
        words.collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn both_libraries_go_into_one_and_both_processors_are_asked_for() {
        let libraries = PROCESSORS.map(|(target, _)| Path::new(target).join("p.dylib"));
        let library = Path::new("universal").join("p.dylib");
        let [one, two] = libraries.each_ref().map(|path| path.display().to_string());
        let into = library.display();
        assert!(one.starts_with("aarch64") && two.starts_with("x86_64"));
        assert_eq!(
            words(&join(&libraries, &library)),
            format!("-create -output {into} {one} {two}")
        );
        assert_eq!(words(&verify(&library)), format!("{into} -verify_arch arm64 x86_64"));
    }

    #[test]
    #[cfg(not(target_os = "macos"))]
    fn another_system_is_told_before_anything_is_built() {
        let failure = build(Profile::Release).err().unwrap();
        assert!(failure.to_string().contains("on a Mac"), "{failure}");
    }
}

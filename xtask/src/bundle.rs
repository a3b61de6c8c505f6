//! The bundles: what a host loads. CLAP's is a shared library with another name on Linux and
//! Windows, a folder with an `Info.plist` on macOS; VST3's is a folder everywhere (VST 3 plug-in
//! format structure, from memory). Both hold the same library.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::cargo::{self, Built, Profile};
use crate::failure::Failure;

/// The plugin's package, a section of `bundler.toml`.
const PACKAGE: &str = "plimsoll";
/// Identifier of the macOS bundle.
const BUNDLE_IDENTIFIER: &str = "org.plimsoll.plimsoll";

/// What one build gives to hosts.
pub(crate) struct Bundles {
    pub clap: PathBuf,
    pub vst3: PathBuf,
}

/// Builds the plugin and writes the bundles.
pub(crate) fn build(profile: Profile) -> Result<Bundles, Failure> {
    write(&cargo::build(profile)?, profile)
}

/// Writes the bundles of what was built.
pub(crate) fn write(built: &Built, profile: Profile) -> Result<Bundles, Failure> {
    write_into(built, &folder(profile, "")?)
}

/// Where bundles of this kind go. A debug bundle has a folder of its own, so that nobody installs it
/// by mistake.
pub(crate) fn folder(profile: Profile, kind: &str) -> Result<PathBuf, Failure> {
    let debug = if profile == Profile::Debug { "-debug" } else { "" };
    Ok(cargo::target_directory()?.join(format!("bundled{kind}{debug}")))
}

/// Writes the bundles of what was built into `folder`.
pub(crate) fn write_into(built: &Built, folder: &Path) -> Result<Bundles, Failure> {
    let Some(library) = &built.plugin_library else {
        return Err(Failure::Rule(format!(
            "cargo built no .{} of {PACKAGE}; its Cargo.toml must list the crate type cdylib",
            std::env::consts::DLL_EXTENSION
        )));
    };
    let settings_path = cargo::workspace_root()?.join("bundler.toml");
    let settings =
        fs::read_to_string(&settings_path).map_err(Failure::io("read", &settings_path))?;
    let name = bundle_name(&settings).ok_or_else(|| {
        Failure::Rule(format!(
            "{}: needs a section [{PACKAGE}] with a line name = \"…\"",
            settings_path.display()
        ))
    })?;
    let [clap, vst3] = ["clap", "vst3"].map(|format| folder.join(format!("{name}.{format}")));
    if cfg!(target_os = "macos") {
        write_macos(library, &clap, name)?;
        write_macos(library, &vst3, name)?;
    } else {
        copy_file(library, &clap)?;
        let (system, extension) =
            if cfg!(target_os = "windows") { ("win", "vst3") } else { ("linux", "so") };
        let inner = vst3.join("Contents").join(format!("{}-{system}", std::env::consts::ARCH));
        copy_file(library, &inner.join(format!("{name}.{extension}")))?;
    }
    Ok(Bundles { clap, vst3 })
}

/// The display name in the package's section of `bundler.toml`: the few lines of TOML that the
/// file may hold.
fn bundle_name(settings: &str) -> Option<&str> {
    let mut lines = settings.lines().map(str::trim);
    let section = format!("[{PACKAGE}]");
    lines.find(|line| *line == section)?;
    lines
        .take_while(|line| !line.starts_with('['))
        .filter_map(|line| line.split_once('='))
        .find(|(key, _)| key.trim() == "name")
        .and_then(|(_, value)| value.trim().strip_prefix('"')?.strip_suffix('"'))
        .filter(|name| !name.is_empty() && !name.contains(['"', '\\', '/']))
}

fn write_macos(library: &Path, bundle: &Path, name: &str) -> Result<(), Failure> {
    let contents = bundle.join("Contents");
    copy_file(library, &contents.join("MacOS").join(name))?;
    write_file(&contents.join("PkgInfo"), "BNDL????")?;
    write_file(&contents.join("Info.plist"), &info_plist(name))?;
    // Without a signature, if only a local one, Apple silicon refuses to load it.
    let mut codesign = Command::new("codesign");
    codesign.args(["--force", "--sign", "-"]).arg(bundle);
    cargo::run(&mut codesign)
}

/// What macOS reads about a bundle.
fn info_plist(name: &str) -> String {
    let version = env!("CARGO_PKG_VERSION");
    format!(
        r#"<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE plist PUBLIC "-//Apple//DTD PLIST 1.0//EN" "http://www.apple.com/DTDs/PropertyList-1.0.dtd">
<plist version="1.0">
<dict>
    <key>CFBundleExecutable</key><string>{name}</string>
    <key>CFBundleIdentifier</key><string>{BUNDLE_IDENTIFIER}</string>
    <key>CFBundleInfoDictionaryVersion</key><string>6.0</string>
    <key>CFBundleName</key><string>{name}</string>
    <key>CFBundlePackageType</key><string>BNDL</string>
    <key>CFBundleSignature</key><string>????</string>
    <key>CFBundleShortVersionString</key><string>{version}</string>
    <key>CFBundleVersion</key><string>{version}</string>
    <key>NSHighResolutionCapable</key><true/>
</dict>
</plist>
"#
    )
}

fn write_file(path: &Path, text: &str) -> Result<(), Failure> {
    fs::write(path, text).map_err(Failure::io("write", path))
}

/// Copies through a second name: a host that has the old file open keeps it, and none ever sees
/// half a file.
fn copy_file(from: &Path, to: &Path) -> Result<(), Failure> {
    if let Some(folder) = to.parent() {
        fs::create_dir_all(folder).map_err(Failure::io("create", folder))?;
    }
    let mut beside = to.as_os_str().to_owned();
    beside.push(".new");
    let beside = PathBuf::from(beside);
    fs::copy(from, &beside).map_err(Failure::io("write", &beside))?;
    fs::rename(&beside, to).map_err(Failure::io("replace (is a host using it?)", to))
}

/// Copies a bundle, file or folder, into `folder`; returns the copy's path.
pub(crate) fn copy_into(bundle: &Path, folder: &Path) -> Result<PathBuf, Failure> {
    let name = bundle.file_name().unwrap_or(bundle.as_os_str());
    let copy = folder.join(name);
    copy_tree(bundle, &copy)?;
    Ok(copy)
}

fn copy_tree(from: &Path, to: &Path) -> Result<(), Failure> {
    if !from.is_dir() {
        return copy_file(from, to);
    }
    for entry in fs::read_dir(from).map_err(Failure::io("read", from))? {
        let entry = entry.map_err(Failure::io("read", from))?;
        copy_tree(&entry.path(), &to.join(entry.file_name()))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_name_comes_from_the_packages_own_section() {
        let settings = "[other]\nname = \"Other\"\n[plimsoll]\n name = \"Plimsoll\"\n";
        assert_eq!(bundle_name(settings), Some("Plimsoll"));
    }

    #[test]
    fn a_missing_or_unusable_name_is_no_name() {
        for settings in [
            "",
            "name = \"Plimsoll\"",
            "[plimsoll]\n[other]\nname = \"Other\"",
            "[plimsoll]\nname = \"\"",
            "[plimsoll]\nname = \"../x\"",
            "[plimsoll]\nname = Plimsoll",
        ] {
            assert_eq!(bundle_name(settings), None, "{settings:?}");
        }
    }

    /// What the list says of `key`.
    fn stated<'a>(list: &'a str, key: &str) -> &'a str {
        let (_, value) = list.split_once(&format!("<key>{key}</key><string>")).unwrap();
        value.split_once("</string>").unwrap().0
    }

    #[test]
    fn macos_is_told_of_the_file_that_is_there_and_of_the_version() {
        let list = info_plist("Name");
        // `write_macos` puts the library there under this name.
        assert_eq!(stated(&list, "CFBundleExecutable"), "Name");
        assert_eq!(stated(&list, "CFBundleIdentifier"), BUNDLE_IDENTIFIER);
        assert_eq!(stated(&list, "CFBundlePackageType"), "BNDL");
        for key in ["CFBundleShortVersionString", "CFBundleVersion"] {
            assert_eq!(stated(&list, key), env!("CARGO_PKG_VERSION"));
        }
        for (open, close) in [("<dict>", "</dict>"), ("<key>", "</key>"), ("<string>", "</string>")]
        {
            assert_eq!(list.matches(open).count(), list.matches(close).count());
        }
    }

    #[test]
    fn a_bundle_that_is_a_folder_is_copied_whole_and_replaces_the_old_one() {
        let base = std::env::temp_dir().join(format!("plimsoll-xtask-{}", std::process::id()));
        let bundle = base.join("from").join("P.clap");
        let inner = bundle.join("Contents").join("MacOS");
        fs::create_dir_all(&inner).unwrap();
        let target = base.join("to");
        for text in ["old", "new"] {
            fs::write(inner.join("P"), text).unwrap();
            let copy = copy_into(&bundle, &target).unwrap();
            assert_eq!(copy, target.join("P.clap"));
            let copied = fs::read_to_string(copy.join("Contents").join("MacOS").join("P"));
            assert_eq!(copied.unwrap(), text);
        }
        fs::remove_dir_all(&base).unwrap();
    }
}

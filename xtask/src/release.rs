//! `cargo xtask release`: everything between a finished change and a file that can be handed on,
//! up to where a person must act.
//!
//! changelog and work tree are in order → every test → two builds in two folders are the same →
//! symbols apart → one archive, its checksum, a list of components, the licences of what is linked in

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use crate::bundle;
use crate::cargo::{self, Built, Profile};
use crate::failure::Failure;
use crate::licences;
use crate::packages;
use crate::test;

const VERSION: &str = env!("CARGO_PKG_VERSION");

/// What stands in the archive beside what was built, where it stands in the workspace's folder: they
/// refer to each other.
const PAPERS: [&str; 8] = [
    "README.md",
    "DEVELOPERS.md",
    "LICENSE-MIT",
    "LICENSE-APACHE",
    "plugin/MANUAL.md",
    "plugin/CHANGELOG.md",
    "plugin/fonts",
    "plugin/images",
];

/// What is called beside cargo, and the Debian package that has it.
const TOOLS: [(&str, &str); 4] =
    [("git", "git"), ("objcopy", "binutils"), ("tar", "tar"), ("sha256sum", "coreutils")];

/// All of it.
pub(crate) fn run() -> Result<(), Failure> {
    if !cfg!(target_os = "linux") {
        return Err(Failure::Rule(
            "a release is made on Linux; bundles for macOS and Windows are made, tested and packed \
             by the workflow (.github/workflows/ci.yml)"
                .to_owned(),
        ));
    }
    let root = cargo::workspace_root()?;
    is_equipped()?;
    is_dated(&root.join("plugin/CHANGELOG.md"))?;
    is_committed(&root)?;
    is_new(&root)?;
    test::run(&[])?;

    let target = cargo::target_directory()?.join("release-twice");
    step("the first build");
    let one = build(&root, &target.join("one"))?;
    step("the second build, in another folder");
    let two = build(&root, &target.join("two"))?;
    step("comparing them");
    for (one, two) in [(&one.library, &two.library), (&one.program, &two.program)] {
        are_same(one, two)?;
    }

    step("the archive");
    let name = format!("Plimsoll-{VERSION}-{}-{}", std::env::consts::OS, std::env::consts::ARCH);
    let out = target.join("out");
    // What an earlier run left would be packed too.
    if out.exists() {
        fs::remove_dir_all(&out).map_err(Failure::io("remove", &out))?;
    }
    let folder = out.join(&name);
    fs::create_dir_all(&folder).map_err(Failure::io("create", &folder))?;
    let symbols = out.join(format!("{name}-symbols"));
    fs::create_dir_all(&symbols).map_err(Failure::io("create", &symbols))?;
    let library = stripped(&one.library, &symbols)?;
    let program = stripped(&one.program, &symbols)?;
    let built = Built { plugin_library: Some(library), ..Built::default() };
    let bundles = bundle::write_into(&built, &out.join("bundles"))?;
    for path in [bundles.clap, bundles.vst3, program] {
        bundle::copy_into(&path, &folder)?;
    }
    for paper in PAPERS.map(Path::new) {
        let to = paper.parent().map_or_else(|| folder.clone(), |within| folder.join(within));
        bundle::copy_into(&root.join(paper), &to)?;
    }
    let second = git(&root, &["log", "-1", "--format=%ct"])?;
    let second = second.trim();
    let components = components(&root, &folder, second)?;
    let missing = licences::write_into(&folder, cargo::HANDED_ON)?;
    let archive = format!("{name}.tar.gz");
    pack(&out, &name, &archive, second)?;
    pack(&out, &format!("{name}-symbols"), &format!("{name}-symbols.tar.gz"), second)?;
    let sums = checksums(&out, &[archive.as_str(), &format!("{name}-symbols.tar.gz")])?;
    let sums_path = out.join(format!("{name}.sha256"));
    fs::write(&sums_path, &sums).map_err(Failure::io("write", &sums_path))?;

    println!("{}\n{sums}{components}", out.display());
    println!(
        "\nWhat is left to a person:\n\
         1. open the plugin of this archive in a host and look at it\n\
         2. git tag -s v{VERSION}; sign the checksums\n\
         3. hand on the archive with its checksum; keep the symbols"
    );
    if let Some(warning) = licences::warning(&missing) {
        println!("Before that: {warning}");
    }
    Ok(())
}

fn step(name: &str) {
    eprintln!("xtask release: {name}");
}

/// The changelog has a section of this version, with its day.
fn is_dated(changelog: &Path) -> Result<(), Failure> {
    let text = fs::read_to_string(changelog).map_err(Failure::io("read", changelog))?;
    match heading(&text, VERSION) {
        Some(rest) if is_day(rest) => Ok(()),
        found => Err(Failure::Rule(format!(
            "{}: a release of {VERSION} needs a section \"## {VERSION}, YYYY-MM-DD\"; {}",
            changelog.display(),
            match found {
                Some(rest) => format!("it says \"{rest}\" in place of the day"),
                None => "there is none of this version".to_owned(),
            }
        ))),
    }
}

/// What follows the version in its heading.
fn heading<'a>(changelog: &'a str, version: &str) -> Option<&'a str> {
    let mut sections = changelog.lines().filter_map(|line| line.strip_prefix("## "));
    sections.find_map(|section| section.strip_prefix(version)?.strip_prefix(", "))
}

fn is_day(text: &str) -> bool {
    let pattern = text.bytes().map(|byte| if byte.is_ascii_digit() { b'0' } else { byte });
    pattern.eq("0000-00-00".bytes())
}

fn is_equipped() -> Result<(), Failure> {
    match TOOLS.iter().find(|(tool, _)| !packages::succeeds(Command::new(tool).arg("--version"))) {
        None => Ok(()),
        Some((tool, package)) => Err(Failure::Rule(format!(
            "a release needs {tool}, which is not here (Debian: apt-get install {package})"
        ))),
    }
}

fn git(root: &Path, words: &[&str]) -> Result<String, Failure> {
    cargo::output(Command::new("git").arg("-C").arg(root).args(words))
}

fn is_committed(root: &Path) -> Result<(), Failure> {
    let changed = git(root, &["status", "--porcelain"])?;
    if changed.is_empty() {
        return Ok(());
    }
    Err(Failure::Rule(format!(
        "a release is made of what is committed; these files are not:\n{}",
        changed.trim_end()
    )))
}

/// The version was not handed on before, unless as this very commit.
fn is_new(root: &Path) -> Result<(), Failure> {
    let tag = format!("v{VERSION}");
    let elsewhere = !git(root, &["tag", "--list", &tag])?.is_empty()
        && !git(root, &["tag", "--points-at", "HEAD"])?.lines().any(|line| line == tag);
    if !elsewhere {
        return Ok(());
    }
    Err(Failure::Rule(format!(
        "{tag} is the tag of another commit: {VERSION} was released; raise the version in Cargo.toml"
    )))
}

/// The files of one build, with their symbols.
struct Files {
    library: PathBuf,
    program: PathBuf,
}

/// Builds in a folder of its own, whose name is kept out of the files.
fn build(root: &Path, target: &Path) -> Result<Files, Failure> {
    let home = std::env::var_os("CARGO_HOME").map(PathBuf::from);
    let home = home.or_else(|| Some(std::env::home_dir()?.join(".cargo")));
    let mut flags = vec![remap(target, "target"), remap(root, "plimsoll")];
    flags.extend(home.map(|home| remap(&home, "cargo")));
    let flags = flags.join("\u{1f}");
    let built = |words: &[&str]| -> Result<Built, Failure> {
        let mut command = cargo::command("build")?;
        // The tests' package only settles the features of what is shared, as in the build under test.
        command.args(["--locked", "--profile", "dist", "--package", "plimsoll"]);
        command.args(["--package", "plimsoll-tests"]).args(words);
        command.env("CARGO_TARGET_DIR", target).env("CARGO_ENCODED_RUSTFLAGS", &flags);
        cargo::finish_build(command, Profile::Debug)
    };
    let library = built(&["--lib"])?.plugin_library;
    let program = built(&["--bin", "plimsoll", "--features", cargo::HANDED_ON])?.check_program;
    match (library, program) {
        (Some(library), Some(program)) => {
            // The second call builds a library with other features over the first one's.
            let kept = target.join("kept");
            Ok(Files { library: bundle::copy_into(&library, &kept)?, program })
        }
        _ => Err(Failure::Rule("cargo built no plugin or no headless check".to_owned())),
    }
}

fn remap(path: &Path, name: &str) -> String {
    format!("--remap-path-prefix={}=/{name}", path.display())
}

fn are_same(one: &Path, two: &Path) -> Result<(), Failure> {
    let read = |path: &Path| fs::read(path).map_err(Failure::io("read", path));
    let (first, second) = (read(one)?, read(two)?);
    if first == second {
        return Ok(());
    }
    let same = first.iter().zip(&second).take_while(|(a, b)| a == b).count();
    Err(Failure::Rule(format!(
        "the build is not reproducible: {} ({} bytes) and {} ({} bytes) differ from byte {same} on",
        one.display(),
        first.len(),
        two.display(),
        second.len(),
    )))
}

/// Copies `file` without its symbols, which go to `symbols`.
fn stripped(file: &Path, symbols: &Path) -> Result<PathBuf, Failure> {
    let name = file.file_name().unwrap_or(file.as_os_str());
    let mut apart = symbols.join(name).into_os_string();
    apart.push(".debug");
    let apart = PathBuf::from(apart);
    let objcopy = |words: &[&str], from: &Path, to: &Path| {
        cargo::run(Command::new("objcopy").args(words).arg(from).arg(to))
    };
    objcopy(&["--only-keep-debug"], file, &apart)?;
    let folder = symbols.with_file_name("stripped");
    fs::create_dir_all(&folder).map_err(Failure::io("create", &folder))?;
    let bare = folder.join(name);
    let link = format!("--add-gnu-debuglink={}", apart.display());
    objcopy(&["--strip-all", &link], file, &bare)?;
    Ok(bare)
}

/// The same files make the same archive, whoever packs them, whenever.
fn pack(out: &Path, folder: &str, archive: &str, second: &str) -> Result<(), Failure> {
    let mut tar = Command::new("tar");
    tar.current_dir(out).args(["--sort=name", "--owner=0", "--group=0", "--numeric-owner"]);
    tar.args(["--mode=u=rwX,go=rX", &format!("--mtime=@{second}"), "-czf", archive, folder]);
    cargo::run(&mut tar)
}

fn checksums(out: &Path, files: &[&str]) -> Result<String, Failure> {
    cargo::output(Command::new("sha256sum").current_dir(out).args(files))
}

/// Writes the list of components (CycloneDX) of what is handed on into `folder`, where the tool for it
/// is installed, and says what it did.
fn components(root: &Path, folder: &Path, second: &str) -> Result<String, Failure> {
    let mut has = Command::new("cargo");
    has.args(["cyclonedx", "--version"]).stderr(Stdio::null());
    if !packages::succeeds(&mut has) {
        return Ok("no list of components: cargo-cyclonedx is missing (cargo install \
                   cargo-cyclonedx)\n"
            .to_owned());
    }
    let mut list = Command::new("cargo");
    list.args(["cyclonedx", "--quiet", "--format", "json", "--spec-version", "1.5"]);
    list.args(["--describe", "binaries", "--features", "headless"]);
    // Without it the list has its own time and a number that is never the same twice.
    list.env("SOURCE_DATE_EPOCH", second);
    list.arg("--manifest-path").arg(root.join("plugin/Cargo.toml"));
    cargo::run(&mut list)?;
    // It writes one beside the manifest of each of the workspace's packages.
    let mut written = Vec::new();
    for package in ["plugin", "tests", "xtask", "plugin/encoder", "plugin/opus", "plugin/reader"] {
        let package = root.join(package);
        for entry in fs::read_dir(&package).map_err(Failure::io("read", &package))? {
            let path = entry.map_err(Failure::io("read", &package))?.path();
            if path.to_string_lossy().ends_with(".cdx.json") {
                written.push(path);
            }
        }
    }
    let ours = root.join("plugin/plimsoll_bin.cdx.json");
    let text = fs::read_to_string(&ours).map_err(Failure::io("read", &ours))?;
    for path in written {
        fs::remove_file(&path).map_err(Failure::io("remove", &path))?;
    }
    // Nobody else has this machine's folders.
    let text = text.replace(&format!("{}/", root.display()), "");
    let path = folder.join("components.cdx.json");
    fs::write(&path, text).map_err(Failure::io("write", &path))?;
    Ok("components.cdx.json in the archive lists what it is made of\n".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    const CHANGELOG: &str = "# Changes\n\n## 0.2.0, not released\n\n- a\n\n## 0.1.0, 2026-11-25\n";

    #[test]
    fn only_a_section_with_a_day_can_be_released() {
        assert_eq!(heading(CHANGELOG, "0.1.0"), Some("2026-11-25"));
        assert_eq!(heading(CHANGELOG, "0.2.0"), Some("not released"));
        assert_eq!(heading(CHANGELOG, "0.3.0"), None);
        // Another version that only begins so.
        assert_eq!(heading("## 0.1.01, 2026-11-25\n", "0.1.0"), None);
        for (text, expected) in [
            ("2026-11-25", true),
            ("not released", false),
            ("2026-11-5", false),
            ("2026-11-25 ", false),
            ("", false),
        ] {
            assert_eq!(is_day(text), expected, "{text:?}");
        }
    }

    #[test]
    #[cfg(target_os = "linux")]
    fn the_same_files_make_the_same_archive() {
        use std::os::unix::fs::PermissionsExt as _;
        use std::time::{Duration, UNIX_EPOCH};
        let base = std::env::temp_dir().join(format!("plimsoll-pack-{}", std::process::id()));
        // Written in another order, at another time, with other rights.
        let kinds = [("one", ["a", "b"], 0o644, 1_000), ("two", ["b", "a"], 0o600, 2_000)];
        let [one, two] = kinds.map(|(out, names, mode, second)| {
            let out = base.join(out);
            fs::create_dir_all(out.join("f")).unwrap();
            for name in names {
                let file = fs::File::create(out.join("f").join(name)).unwrap();
                file.set_permissions(fs::Permissions::from_mode(mode)).unwrap();
                file.set_modified(UNIX_EPOCH + Duration::from_secs(second)).unwrap();
            }
            pack(&out, "f", "f.tar.gz", "1700000000").unwrap();
            fs::read(out.join("f.tar.gz")).unwrap()
        });
        assert!(!one.is_empty() && one == two);
        fs::remove_dir_all(&base).unwrap();
    }

    #[test]
    fn files_that_differ_are_told_with_the_place() {
        let folder = std::env::temp_dir().join(format!("plimsoll-release-{}", std::process::id()));
        fs::create_dir_all(&folder).unwrap();
        let [one, two, three] = ["one", "two", "three"].map(|name| folder.join(name));
        fs::write(&one, "abcdef").unwrap();
        fs::write(&two, "abcdef").unwrap();
        fs::write(&three, "abcxe").unwrap();
        assert!(are_same(&one, &two).is_ok());
        let said = are_same(&one, &three).unwrap_err().to_string();
        assert!(said.contains("(6 bytes)") && said.contains("(5 bytes)"), "{said}");
        assert!(said.contains("from byte 3 on"), "{said}");
        fs::remove_dir_all(&folder).unwrap();
    }
}

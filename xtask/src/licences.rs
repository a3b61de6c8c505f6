//! The licences of what is linked in: most ask that their text and its notices come with a binary.
//!
//! cargo tree (which crates) → cargo metadata (where they lie, what they say of themselves) → the texts
//! in their folders → one file, the same from any machine

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

use crate::bundle;
use crate::cargo;
use crate::failure::Failure;

/// The file in the archive.
const FILE: &str = "THIRD-PARTY.txt";

const HEAD: &str = "What the plugin and the program `plimsoll` are made of beside Plimsoll itself\n\n\
    First the packages, then those that came without a text of their own, then every text with the\n\
    packages that it came with. Each is built as its authors published it in Rust's package registry\n\
    under this name and version: there, and in its repository, is its source. The font's licence is\n\
    in `plugin/fonts`, that of Rust's own library in COPYRIGHT-library.html.\n";

const RULE: &str =
    "\n================================================================================\n";

/// How the names of files with a licence or a notice begin.
const NAMES: [&str; 6] = ["LICENSE", "LICENCE", "UNLICENSE", "COPYING", "COPYRIGHT", "NOTICE"];

/// Under these a binary needs no copyright line of the authors. Apache's asks for its text, which is in
/// the archive, and for a NOTICE only where there is one.
const WITHOUT_NOTICE: [&str; 7] =
    ["0BSD", "Apache-2.0", "BSL-1.0", "CC0-1.0", "MIT-0", "Unlicense", "Zlib"];

/// Writes the file for what is handed on into `folder`, and says which texts are missing.
pub(crate) fn run(folder: &Path) -> Result<(), Failure> {
    let missing = write_into(folder, cargo::HANDED_ON)?;
    println!("{}", folder.join(FILE).display());
    if let Some(warning) = warning(&missing) {
        println!("{warning}");
    }
    Ok(())
}

/// Which texts are `missing`; `None` if none is.
pub(crate) fn warning(missing: &[String]) -> Option<String> {
    (!missing.is_empty()).then(|| {
        format!(
            "{FILE} lacks the licence texts of these, which came without: {}",
            missing.join(", ")
        )
    })
}

/// Writes the file into `folder`; gives what the texts are missing of.
pub(crate) fn write_into(folder: &Path, features: &str) -> Result<Vec<String>, Failure> {
    let linked = linked(features)?;
    let path = folder.join(FILE);
    fs::write(&path, page(&linked)).map_err(Failure::io("write", &path))?;
    let mut missing: Vec<String> =
        linked.iter().filter(|it| it.lacks()).map(|it| it.id.clone()).collect();
    let sysroot = cargo::output(Command::new("rustc").args(["--print", "sysroot"]))?;
    let library = Path::new(sysroot.trim()).join("share/doc/rust/COPYRIGHT-library.html");
    if library.is_file() {
        bundle::copy_into(&library, folder)?;
    } else {
        missing.push("Rust's own library".to_owned());
    }
    Ok(missing)
}

/// A crate that is linked in.
#[derive(Debug, Default)]
struct Linked {
    /// Name and version.
    id: String,
    licence: String,
    repository: String,
    authors: String,
    /// Name in the crate's folder, text.
    texts: Vec<(String, String)>,
}

impl Linked {
    /// Whether it has a text of its own; one further down is that of something it brings.
    fn has_own(&self) -> bool {
        self.texts.iter().any(|(file, _)| !file.contains('/') || in_licences(file))
    }

    /// Whether a notice must come with it that is not in its folder.
    fn lacks(&self) -> bool {
        let free = |licence: &str| WITHOUT_NOTICE.contains(&licence.trim());
        let any = self.licence.replace('/', " OR ").split(" OR ").any(free);
        !self.has_own() && (!any || self.licence.contains(" AND "))
    }
}

/// Everything that is linked in with `features`, by name and version.
fn linked(features: &str) -> Result<Vec<Linked>, Failure> {
    let mut tree = cargo::command("tree")?;
    // As it is built: the tests' package settles features, but nothing of it is handed on.
    tree.args(["--locked", "--package", "plimsoll", "--package", "plimsoll-tests"]);
    tree.args(["--features", features, "--edges", "normal,no-proc-macro"]);
    tree.args(["--prefix", "none", "--format", "{p}"]);
    let ids = ids(&cargo::output(&mut tree)?)?;
    let host = cargo::output(Command::new("rustc").args(["--print", "host-tuple"]))?;
    let mut metadata = cargo::command("metadata")?;
    metadata.args(["--locked", "--format-version", "1", "--features", features]);
    metadata.args(["--filter-platform", host.trim()]);
    let said = serde_json::from_str(&cargo::output(&mut metadata)?)
        .map_err(|error| Failure::Rule(format!("cargo metadata: not JSON: {error}")))?;
    described(ids, &said)
}

/// Names and versions in the first tree that cargo shows, which must be the plugin's.
fn ids(tree: &str) -> Result<BTreeSet<String>, Failure> {
    if !tree.starts_with("plimsoll v") {
        let line = tree.lines().next().unwrap_or_default();
        return Err(Failure::Rule(format!(
            "cargo tree: begins with \"{line}\", not with plimsoll"
        )));
    }
    let id = |line: &str| {
        let mut words = line.split(' ');
        Some(format!("{} {}", words.next()?, words.next()?.trim_start_matches('v')))
    };
    Ok(tree.lines().take_while(|line| !line.is_empty()).filter_map(id).collect())
}

fn described(ids: BTreeSet<String>, metadata: &Value) -> Result<Vec<Linked>, Failure> {
    let word = |package: &Value, key: &str| package[key].as_str().unwrap_or_default().to_owned();
    let packages = metadata["packages"].as_array().into_iter().flatten();
    let packages: BTreeMap<String, &Value> =
        packages.map(|it| (format!("{} {}", word(it, "name"), word(it, "version")), it)).collect();
    let mut linked = Vec::new();
    for id in ids {
        let Some(package) = packages.get(&id) else {
            let line = format!("cargo metadata: no {id}, which cargo tree names");
            return Err(Failure::Rule(line));
        };
        // Our own have no source.
        if package["source"].is_null() {
            continue;
        }
        let authors = package["authors"].as_array().into_iter().flatten();
        let authors: Vec<&str> = authors.filter_map(Value::as_str).collect();
        let folder = PathBuf::from(word(package, "manifest_path")).with_file_name("");
        let mut texts = Vec::new();
        find(&folder, "", &word(package, "license_file"), &mut texts)?;
        texts.sort();
        linked.push(Linked {
            id,
            licence: word(package, "license"),
            repository: word(package, "repository"),
            authors: authors.join(", "),
            texts,
        });
    }
    Ok(linked)
}

/// Collects the texts in `folder`, whose path in the crate is `inside`.
fn find(
    folder: &Path,
    inside: &str,
    named: &str,
    texts: &mut Vec<(String, String)>,
) -> Result<(), Failure> {
    for entry in fs::read_dir(folder).map_err(Failure::io("read", folder))? {
        let path = entry.map_err(Failure::io("read", folder))?.path();
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let file = format!("{inside}{name}");
        if path.is_dir() {
            find(&path, &format!("{file}/"), named, texts)?;
        } else if is_text(&file) || file == named {
            let bytes = fs::read(&path).map_err(Failure::io("read", &path))?;
            texts.push((file, plain(&String::from_utf8_lossy(&bytes))));
        }
    }
    Ok(())
}

fn in_licences(file: &str) -> bool {
    let folder = file.split_once('/').map(|(folder, _)| folder.to_uppercase());
    folder.is_some_and(|folder| folder == "LICENSES" || folder == "LICENCES")
}

fn is_text(file: &str) -> bool {
    let name = file.rsplit('/').next().unwrap_or(file).to_uppercase();
    in_licences(file)
        || (NAMES.iter().any(|begin| name.starts_with(begin)) && !name.ends_with(".RS"))
}

/// Without what no reader sees: ends of lines, blanks before them, empty lines around.
fn plain(text: &str) -> String {
    let lines: Vec<&str> = text.lines().map(str::trim_end).collect();
    lines.join("\n").trim_matches('\n').to_owned()
}

fn page(linked: &[Linked]) -> String {
    let mut page = HEAD.to_owned();
    let mut say = |line: &str| writeln!(page, "{line}").unwrap_or_default();
    say(RULE);
    for it in linked {
        say(&format!("{} | {} | {}", it.id, it.licence, it.repository));
    }
    say(&format!("{RULE}\nWithout a text of their own:\n"));
    for it in linked.iter().filter(|it| !it.has_own()) {
        say(&format!("{} | {} | {}", it.id, it.licence, it.authors));
    }
    let mut texts: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for it in linked {
        for (file, text) in &it.texts {
            texts.entry(text).or_default().push(format!("{}: {file}", it.id));
        }
    }
    let mut texts: Vec<_> = texts.into_iter().map(|(text, users)| (users, text)).collect();
    texts.sort();
    for (users, text) in texts {
        say(&format!("{RULE}\n{}\n\n{text}", users.join("\n")));
    }
    page
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set(ids: &[&str]) -> BTreeSet<String> {
        ids.iter().map(|id| (*id).to_owned()).collect()
    }

    fn made_up(name: &str, licence: &str, texts: &[(&str, &str)]) -> Linked {
        let texts = texts.iter().map(|(file, text)| ((*file).to_owned(), (*text).to_owned()));
        Linked {
            id: format!("{name} 1.0.0"),
            licence: licence.to_owned(),
            authors: format!("who made {name}"),
            texts: texts.collect(),
            ..Linked::default()
        }
    }

    #[test]
    fn only_the_plugins_own_tree_counts() {
        let tree = "plimsoll v0.1.0 (/a folder/plugin)\na v1.0.0\nb-v v2.0.0+c1 (*)\na v1.1.0\na v1.0.0\n\n\
                    plimsoll-tests v0.1.0 (/t)\nd v1.0.0\n";
        let expected = ["a 1.0.0", "a 1.1.0", "b-v 2.0.0+c1", "plimsoll 0.1.0"];
        assert_eq!(ids(tree).unwrap(), set(&expected));
        let said = ids("plimsoll-tests v0.1.0\n").unwrap_err().to_string();
        assert!(said.contains("cargo tree") && said.contains("plimsoll-tests v0.1.0"), "{said}");
    }

    #[test]
    fn texts_are_found_by_their_names_in_every_folder() {
        for (file, expected) in [
            ("LICENSE", true),
            ("license-mit.txt", true),
            ("Licence.md", true),
            ("UNLICENSE", true),
            ("NOTICE", true),
            ("LICENSES/MIT.txt", true),
            ("vendor/COPYING", true),
            ("src/license.rs", false),
            ("src/NOLICENSE", false),
            ("README.md", false),
        ] {
            assert_eq!(is_text(file), expected, "{file}");
        }
    }

    #[test]
    fn a_package_is_read_from_its_folder_and_our_own_is_left_out() {
        let base = std::env::temp_dir().join(format!("plimsoll-licences-{}", std::process::id()));
        fs::create_dir_all(base.join("deep")).unwrap();
        for (file, text) in
            [("LICENSE", "\r\nlet \r\nit\r\n"), ("deep/NOTICE", "n"), ("odd", "o"), ("x", "x")]
        {
            fs::write(base.join(file), text).unwrap();
        }
        let package = |name: &str, source: Option<&str>| {
            serde_json::json!({ "name": name, "version": "1.0.0", "license": "MIT", "license_file": "odd",
                "repository": "r", "authors": ["p", "q"], "source": source,
                "manifest_path": base.join("Cargo.toml") })
        };
        let metadata =
            serde_json::json!({ "packages": [package("ours", None), package("a", Some("s"))] });
        let found = described(set(&["a 1.0.0", "ours 1.0.0"]), &metadata).unwrap();
        let said = described(set(&["a 2.0.0"]), &metadata).unwrap_err().to_string();
        fs::remove_dir_all(&base).unwrap();
        let [a] = found.as_slice() else { panic!("{found:?}") };
        let texts = [("LICENSE", "let\nit"), ("deep/NOTICE", "n"), ("odd", "o")];
        assert_eq!(a.texts, texts.map(|(file, text)| (file.to_owned(), text.to_owned())));
        assert_eq!((a.id.as_str(), a.authors.as_str()), ("a 1.0.0", "p, q"));
        assert!(said.contains("cargo metadata") && said.contains("a 2.0.0"), "{said}");
    }

    #[test]
    fn an_equal_text_stands_once_under_all_its_packages() {
        let page = page(&[
            made_up("a", "MIT", &[("LICENSE", "one text")]),
            made_up("b", "MIT", &[("LICENSE-MIT", "one text"), ("NOTICE", "another")]),
            made_up("c", "ISC", &[("vendor/COPYING", "further down")]),
        ]);
        assert_eq!(page.matches("one text").count(), 1);
        assert!(page.contains("\na 1.0.0: LICENSE\nb 1.0.0: LICENSE-MIT\n\none text\n"), "{page}");
        assert!(page.contains("\nb 1.0.0: NOTICE\n\nanother\n"), "{page}");
        assert!(page.contains("of their own:\n\nc 1.0.0 | ISC | who made c\n\n==="), "{page}");
        assert!(page.contains("\nc 1.0.0: vendor/COPYING\n\nfurther down\n"), "{page}");
    }

    #[test]
    fn a_missing_text_is_told_where_the_licence_asks_for_it() {
        for (licence, lacks) in [
            ("MIT", true),
            ("MIT OR Apache-2.0", false),
            ("MIT / Apache-2.0", false),
            ("Unlicense/MIT", false),
            ("(MIT OR Zlib OR ISC) AND MIT", true),
            ("MPL-2.0", true),
            ("", true),
        ] {
            assert_eq!(made_up("a", licence, &[]).lacks(), lacks, "{licence}");
            assert!(
                made_up("a", licence, &[("vendor/LICENSE", "t")]).lacks() == lacks,
                "{licence}"
            );
            assert!(!made_up("a", licence, &[("licenses/a", "t")]).lacks(), "{licence}");
            assert!(!made_up("a", licence, &[("LICENSE", "t")]).lacks(), "{licence}");
        }
    }

    #[test]
    fn this_workspace_has_its_texts_in_it_and_no_path_of_this_machine() {
        let folder = std::env::temp_dir().join(format!("plimsoll-third-{}", std::process::id()));
        fs::create_dir_all(&folder).unwrap();
        write_into(&folder, cargo::HANDED_ON).unwrap();
        let page = fs::read_to_string(folder.join(FILE)).unwrap();
        fs::remove_dir_all(&folder).unwrap();
        let list = page.split(RULE).nth(1).unwrap();
        // The plugin's, the program's, what only tests, builds and macros have, our own.
        for (name, expected) in [
            ("egui", true),
            ("serde", true),
            ("clap", true),
            ("symphonia", true),
            ("mp3lame-encoder", false),
            ("mp3lame-sys", false),
            ("egui_kittest", false),
            ("cc", false),
            ("syn", false),
            ("plimsoll", false),
        ] {
            assert_eq!(list.contains(&format!("\n{name} ")), expected, "{name}");
        }
        for text in ["Mozilla Public License Version 2.0", "Permission is hereby granted"] {
            assert!(page.contains(text), "{text}");
        }
        let root = cargo::workspace_root().unwrap();
        let home = std::env::home_dir().unwrap();
        for path in [root.to_string_lossy(), home.join(".cargo").to_string_lossy()] {
            assert!(!page.contains(&*path), "{path}");
        }
        assert!(!page.contains('\r') && page.ends_with('\n'));
    }
}

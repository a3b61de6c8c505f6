//! Plugin libraries: the built bundle, or an entry linked into the binary.

use super::{HostError, failed};
use clack_host::entry::EntryDescriptor;
use clack_host::prelude::*;
use std::path::{Path, PathBuf};

/// A loaded plugin library, from which any number of instances can be made.
#[derive(Clone)]
pub struct Library {
    pub(super) entry: PluginEntry,
}

/// What the library says about a plugin before an instance exists.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Descriptor {
    /// The plugin's identifier.
    pub id: String,
    /// Its name.
    pub name: String,
    /// Its version.
    pub version: String,
    /// CLAP features.
    pub features: Vec<String>,
}

impl Library {
    /// Loads a built `.clap`.
    ///
    /// # Errors
    /// It cannot be loaded.
    #[allow(unsafe_code, reason = "loading a library runs its code")]
    pub fn load(path: &Path) -> Result<Self, HostError> {
        // A path without a slash would be searched for in the system's folders.
        let path = std::path::absolute(path).map_err(|e| failed("the path")(&e))?;
        // SAFETY: the file is the bundle that this workspace builds; its start-up code is the
        // framework's, and its entry is a valid CLAP entry.
        let entry = unsafe { PluginEntry::load(&path) }
            .map_err(|e| HostError(format!("{}: {e}", path.display())))?;
        Ok(Self { entry })
    }

    /// Uses an entry that is linked into this binary.
    ///
    /// # Errors
    /// It does not initialise.
    #[allow(unsafe_code, reason = "calls through the entry's function pointers")]
    pub fn linked(entry: &'static EntryDescriptor) -> Result<Self, HostError> {
        // SAFETY: the entry is a static of the plugin crate made by the framework's export macro:
        // a valid CLAP entry for as long as the program runs.
        let entry = unsafe { PluginEntry::load_from_raw(entry, c"/linked/into/the/binary") }
            .map_err(|e| failed("the linked entry")(&e))?;
        Ok(Self { entry })
    }

    /// What the plugins in the library are.
    #[must_use]
    pub fn descriptors(&self) -> Vec<Descriptor> {
        let text =
            |c: Option<&std::ffi::CStr>| c.unwrap_or_default().to_string_lossy().into_owned();
        let Some(factory) = self.entry.get_plugin_factory() else {
            return Vec::new();
        };
        factory
            .plugin_descriptors()
            .map(|descriptor| Descriptor {
                id: text(descriptor.id()),
                name: text(descriptor.name()),
                version: text(descriptor.version()),
                features: descriptor.features().map(|f| text(Some(f))).collect(),
            })
            .collect()
    }
}

/// The bundle that `cargo xtask test` built: `PLIMSOLL_CLAP`, else where `cargo xtask bundle`
/// puts it.
///
/// # Panics
/// If there is none: the test that asks for it cannot be made without.
#[must_use]
pub fn built_bundle() -> PathBuf {
    let path = std::env::var_os("PLIMSOLL_CLAP")
        .map_or_else(|| crate::music::target_folder().join("bundled/Plimsoll.clap"), PathBuf::from);
    assert!(
        path.exists(),
        "{}: no such bundle: build it with `cargo xtask bundle`, or run the \
         tests with `cargo xtask test`",
        path.display()
    );
    path
}

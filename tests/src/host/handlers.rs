//! What the plugin may ask of the host.

use clack_extensions::gui::{GuiSize, HostGui, HostGuiImpl};
use clack_extensions::latency::{HostLatency, HostLatencyImpl};
use clack_extensions::log::{HostLog, HostLogImpl, LogSeverity};
use clack_extensions::params::{
    HostParams, HostParamsImplMainThread, HostParamsImplShared, ParamClearFlags, ParamRescanFlags,
};
use clack_extensions::state::{HostState, HostStateImpl};
use clack_extensions::thread_check::{HostThreadCheck, HostThreadCheckImpl};
use clack_extensions::track_info::{HostTrackInfo, HostTrackInfoImpl, TrackInfo, TrackInfoWriter};
use clack_host::prelude::*;
use std::cell::Cell;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering::Relaxed};
use std::thread::ThreadId;

/// What this host calls the track of every plugin.
pub const TRACK_NAME: &str = "Mix bus";

thread_local! {
    static IS_AUDIO_THREAD: Cell<bool> = const { Cell::new(false) };
}

/// Does `work` while this thread acts as the audio thread.
pub(super) fn as_audio_thread<T>(work: impl FnOnce() -> T) -> T {
    IS_AUDIO_THREAD.set(true);
    let result = work();
    IS_AUDIO_THREAD.set(false);
    result
}

/// How often the plugin asked for what.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Calls {
    /// Asked to be deactivated and activated again.
    pub restart: u64,
    /// Asked to be processed.
    pub process: u64,
    /// Asked for a call on the main thread.
    pub callback: u64,
    /// Asked that parameters be exchanged.
    pub flush: u64,
    /// Told that parameters are to be read again.
    pub rescan: u64,
    /// Told that the project has changed.
    pub mark_dirty: u64,
    /// Told that its latency has changed.
    pub latency_changed: u64,
    /// Asked for another window size.
    pub resize: u64,
    /// Asked for the name of its track.
    pub track_info: u64,
}

/// The host's side of one instance: counts, and who is on which thread.
#[derive(Debug)]
pub struct Shared {
    main_thread: ThreadId,
    violations: Mutex<Vec<String>>,
    callback_is_due: AtomicBool,
    restart: AtomicU64,
    process: AtomicU64,
    callback: AtomicU64,
    flush: AtomicU64,
    rescan: AtomicU64,
    mark_dirty: AtomicU64,
    latency_changed: AtomicU64,
    resize: AtomicU64,
    track_info: AtomicU64,
    log: Mutex<Vec<(LogSeverity, String)>>,
}

impl Default for Shared {
    fn default() -> Self {
        Self {
            main_thread: std::thread::current().id(),
            violations: Mutex::new(Vec::new()),
            callback_is_due: AtomicBool::new(false),
            restart: AtomicU64::new(0),
            process: AtomicU64::new(0),
            callback: AtomicU64::new(0),
            flush: AtomicU64::new(0),
            rescan: AtomicU64::new(0),
            mark_dirty: AtomicU64::new(0),
            latency_changed: AtomicU64::new(0),
            resize: AtomicU64::new(0),
            track_info: AtomicU64::new(0),
            log: Mutex::new(Vec::new()),
        }
    }
}

impl Shared {
    /// Keeps a call that came on a thread on which CLAP does not allow it. `rule` is the
    /// annotation in CLAP's header (from memory).
    fn allow(&self, is_allowed: bool, call: &str, rule: &str) {
        if !is_allowed && let Ok(mut violations) = self.violations.lock() {
            let thread = std::thread::current();
            violations.push(format!("{call} is [{rule}], called on {:?}", thread.name()));
        }
    }

    fn allow_on_main_thread(&self, call: &str) {
        self.allow(self.is_main_thread(), call, "main-thread");
    }

    pub(super) fn violations(&self) -> Vec<String> {
        self.violations.lock().map(|found| found.clone()).unwrap_or_default()
    }

    pub(super) fn take_callback_request(&self) -> bool {
        self.callback_is_due.swap(false, Relaxed)
    }

    pub(super) fn calls(&self) -> Calls {
        Calls {
            restart: self.restart.load(Relaxed),
            process: self.process.load(Relaxed),
            callback: self.callback.load(Relaxed),
            flush: self.flush.load(Relaxed),
            rescan: self.rescan.load(Relaxed),
            mark_dirty: self.mark_dirty.load(Relaxed),
            latency_changed: self.latency_changed.load(Relaxed),
            resize: self.resize.load(Relaxed),
            track_info: self.track_info.load(Relaxed),
        }
    }

    pub(super) fn log_lines(&self) -> Vec<(LogSeverity, String)> {
        self.log.lock().map(|lines| lines.clone()).unwrap_or_default()
    }
}

impl SharedHandler<'_> for Shared {
    fn request_restart(&self) {
        self.restart.fetch_add(1, Relaxed);
    }

    fn request_process(&self) {
        self.process.fetch_add(1, Relaxed);
    }

    fn request_callback(&self) {
        self.callback.fetch_add(1, Relaxed);
        self.callback_is_due.store(true, Relaxed);
    }
}

impl HostLogImpl for Shared {
    fn log(&self, severity: LogSeverity, message: &str) {
        if let Ok(mut lines) = self.log.lock() {
            lines.push((severity, message.to_owned()));
        }
    }
}

impl HostThreadCheckImpl for Shared {
    fn is_main_thread(&self) -> bool {
        std::thread::current().id() == self.main_thread && !IS_AUDIO_THREAD.get()
    }

    fn is_audio_thread(&self) -> bool {
        IS_AUDIO_THREAD.get()
    }
}

impl HostParamsImplShared for Shared {
    fn request_flush(&self) {
        self.allow(!self.is_audio_thread(), "params.request_flush", "!audio-thread");
        self.flush.fetch_add(1, Relaxed);
    }
}

impl HostGuiImpl for Shared {
    fn resize_hints_changed(&self) {}

    fn request_resize(&self, _new_size: GuiSize) -> Result<(), HostError> {
        self.resize.fetch_add(1, Relaxed);
        Ok(())
    }

    fn request_show(&self) -> Result<(), HostError> {
        Ok(())
    }

    fn request_hide(&self) -> Result<(), HostError> {
        Ok(())
    }

    fn closed(&self, _was_destroyed: bool) {}
}

/// The host's main-thread side.
#[derive(Debug)]
pub struct MainThread<'a> {
    pub(super) shared: &'a Shared,
}

impl<'a> MainThreadHandler<'a> for MainThread<'a> {}

impl HostParamsImplMainThread for MainThread<'_> {
    fn rescan(&self, _flags: ParamRescanFlags) {
        self.shared.allow_on_main_thread("params.rescan");
        self.shared.rescan.fetch_add(1, Relaxed);
    }

    fn clear(&self, _param_id: ClapId, _flags: ParamClearFlags) {
        self.shared.allow_on_main_thread("params.clear");
    }
}

impl HostStateImpl for MainThread<'_> {
    fn mark_dirty(&self) {
        self.shared.allow_on_main_thread("state.mark_dirty");
        self.shared.mark_dirty.fetch_add(1, Relaxed);
    }
}

impl HostTrackInfoImpl for MainThread<'_> {
    fn get<'a>(&'a self, writer: &mut TrackInfoWriter<'_, 'a>) {
        self.shared.track_info.fetch_add(1, Relaxed);
        writer.set(&TrackInfo::new().with_name(Some(TRACK_NAME.as_bytes())));
    }
}

impl HostLatencyImpl for MainThread<'_> {
    fn changed(&self) {
        self.shared.allow_on_main_thread("latency.changed");
        self.shared.latency_changed.fetch_add(1, Relaxed);
    }
}

/// Which types play which part.
#[derive(Debug)]
pub struct Handlers;

impl HostHandlers for Handlers {
    type Shared<'a> = Shared;
    type MainThread<'a> = MainThread<'a>;
    type AudioProcessor<'a> = ();

    fn declare_extensions(builder: &mut HostExtensions<Self>, _shared: &Self::Shared<'_>) {
        builder
            .register::<HostGui>()
            .register::<HostLatency>()
            .register::<HostLog>()
            .register::<HostParams>()
            .register::<HostState>()
            .register::<HostThreadCheck>()
            .register::<HostTrackInfo>();
    }
}

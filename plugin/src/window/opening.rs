//! How the editor's window is opened and closed: the framework's editor, with what its window
//! library leaves to chance taken in hand.
//!
//! - A panic on the window's thread comes out again where the host closes the window, and would
//!   end the host there. Here it ends as a line in the log.
//! - A window that is closed before its thread has begun to listen never hears of it, and the host
//!   waits for ever. Here it is asked for something, and answers, before it is closed.
//! - The window's thread may go on for some milliseconds after its window was closed: a host that
//!   unloads the plugin, or ends, in that time would crash. Here closing waits for the thread.
//! - A window opens in the size and zoom that are kept in the project now, not in those of the
//!   moment when the plugin was made.

use super::thread_end::ThreadEnd;
use super::{EditorApp, Lasting};
use crate::editor::MIN_SIZE;
use nice_plug::context::gui::GuiContext;
use nice_plug::editor::dpi::{LogicalSize, NativeSize};
use nice_plug::editor::{
    Editor, EditorHandle, HostMethods, ParentWindowHandle, ResizeHint, SpawnedEditor,
};
use nice_plug::nice_error;
use nice_plug::prelude::TrackInfo;
use nice_plug_egui::baseview::{Error, Window, WindowSize};
use nice_plug_egui::{EguiEditorHandle, EguiEditorState, EguiNiceSettings, create_egui_editor};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::time::Duration;

/// The window looks this often whether there is something new: what is measured is drawn at most
/// 30 times a second.
const FRAME: Duration = Duration::from_nanos(1_000_000_000 / 30);

/// The editor of one plugin instance, opened and closed any number of times.
pub struct HostedEditor {
    pub(super) lasting: Lasting,
}

/// What the host says to an open window.
pub struct OpenEditor {
    inner: EguiEditorHandle,
    lasting: Lasting,
}

/// An open window; dropping it closes it.
pub struct OwnWindow {
    window: Option<Window>,
    thread_end: Arc<ThreadEnd>,
}

/// Size and scale of an open window.
#[derive(Debug, Clone, Copy)]
pub struct Shown {
    /// As the host counts it.
    size: NativeSize<u32>,
    /// Pixels per point, the zoom included.
    scale: f64,
}

impl Shown {
    /// Of a window whose points, in `size`, are `zoom` times those of the system.
    pub fn new(size: WindowSize, zoom: f64) -> Self {
        let scale = size.scale_factor;
        let logical = size.physical.to_logical(scale / zoom);
        let physical = (size.physical.width, size.physical.height).into();
        Self { size: NativeSize::from_logical_or_physical(logical, physical), scale }
    }
}

fn resize_hint() -> ResizeHint {
    let [width, height] = MIN_SIZE;
    ResizeHint::RESIZABLE.with_min_logical_size(LogicalSize::new(width, height))
}

impl Editor for HostedEditor {
    type Handle = OpenEditor;

    fn spawn(
        &self,
        parent: Option<ParentWindowHandle>,
        wait_for_parent: bool,
        fallback_scale_factor: Option<f64>,
        gui_context: GuiContext,
        host: Option<HostMethods>,
    ) -> Result<SpawnedEditor<OpenEditor>, Box<dyn std::error::Error>> {
        let lasting = self.lasting.clone();
        let prefs = lasting.params.view.get();
        let size = LogicalSize::new(prefs.width, prefs.height);
        let settings = EguiNiceSettings::new()
            .with_tile("Plimsoll")
            .with_resize_hint(resize_hint())
            .with_repaint_poll_interval(FRAME);
        let thread_end = Arc::new(ThreadEnd::default());
        let app = EditorApp::new(lasting.clone(), Arc::clone(&thread_end));
        let state = EguiEditorState::from_size(size, prefs.zoom);
        let editor = create_egui_editor(state, lasting.repaint.clone(), settings, app)
            .ok_or("the framework makes no editor")?;
        // The library does not take a scale into account that it is given before it has a window.
        let opened = editor.spawn(parent, wait_for_parent, None, gui_context, host)?;
        let zoom = f64::from(prefs.zoom);
        let mut size = opened.window.size();
        size.scale_factor *= zoom;
        *lasting.shown.lock() = Some(Shown::new(size, zoom));
        let window = OwnWindow { window: Some(opened.window), thread_end };
        let handle = OpenEditor { inner: opened.handle, lasting };
        if let Some(scale) = fallback_scale_factor {
            handle.set_fallback_scale_factor(scale, &window)?;
        }
        Ok(SpawnedEditor { handle, window })
    }

    fn size(&self) -> NativeSize<u32> {
        let shown = *self.lasting.shown.lock();
        shown.map_or_else(
            || {
                let prefs = self.lasting.params.view.get();
                let size = LogicalSize::new(prefs.width, prefs.height);
                NativeSize::from_size(size.into(), f64::from(prefs.zoom))
            },
            |shown| shown.size,
        )
    }

    fn resize_hint(&self) -> ResizeHint {
        resize_hint()
    }

    fn track_info_updated(&self, info: TrackInfo) {
        self.lasting.shared.set_track(info.name());
        self.lasting.repaint.request_repaint();
    }
}

impl OwnWindow {
    /// Lets the library do something with the window, which is there until it is dropped.
    fn with(&self, act: impl FnOnce(&Window) -> Result<(), Error>) -> Result<(), Error> {
        self.window.as_ref().map_or(Ok(()), act)
    }
}

impl EditorHandle for OpenEditor {
    type Window = OwnWindow;
    type Error = Error;

    fn run_until_closed(mut window: OwnWindow) -> Result<(), Error> {
        window.window.take().map_or(Ok(()), EguiEditorHandle::run_until_closed)
    }

    fn set_parent(&self, parent: ParentWindowHandle, window: &OwnWindow) -> Result<(), Error> {
        window.with(|window| self.inner.set_parent(parent, window))
    }

    fn show(&self, window: &OwnWindow) -> Result<(), Error> {
        window.with(|window| self.inner.show(window))
    }

    fn hide(&self, window: &OwnWindow) -> Result<(), Error> {
        window.with(|window| self.inner.hide(window))
    }

    fn set_size(&self, size: NativeSize<u32>, window: &OwnWindow) -> Result<(), Error> {
        window.with(|window| self.inner.set_size(size, window))
    }

    fn host_main_thread_callback(&self, window: &OwnWindow) {
        if let Some(window) = &window.window {
            self.inner.host_main_thread_callback(window);
        }
    }

    fn adjust_size(&self, size: NativeSize<u32>, _: &OwnWindow) -> Option<NativeSize<u32>> {
        // The library's own answer does not know of a scale that the host gave.
        let shown = (*self.lasting.shown.lock())?;
        Some(resize_hint().adjust_size(size, shown.size, shown.scale))
    }

    fn set_fallback_scale_factor(&self, scale: f64, window: &OwnWindow) -> Result<(), Error> {
        window.with(|window| self.inner.set_fallback_scale_factor(scale, window))
    }

    fn state_changed(&self) {
        self.inner.state_changed();
    }

    fn param_value_changed(&self, id: &str, normalized_value: f32) {
        self.inner.param_value_changed(id, normalized_value);
    }

    fn param_modulation_changed(&self, id: &str, modulation_offset: f32) {
        self.inner.param_modulation_changed(id, modulation_offset);
    }
}

impl Drop for OpenEditor {
    fn drop(&mut self) {
        *self.lasting.shown.lock() = None;
    }
}

impl Drop for OwnWindow {
    fn drop(&mut self) {
        // The answer comes out of the thread's loop: from here on it hears that it is to end. If there
        // is no answer, it has ended already.
        let _ = self.with(Window::hide);
        let window = self.window.take();
        if catch_unwind(AssertUnwindSafe(|| drop(window))).is_err() {
            nice_error!("the editor's window failed before it was closed; metering goes on");
        }
        if !self.thread_end.wait() {
            nice_error!("the thread of the editor's window does not end");
        }
    }
}

//! The editor in a host's window: reads the records into the model, lets the editor draw it, and
//! carries out what the user asked for.

#[cfg(target_os = "linux")]
mod drops;
mod edits;
#[cfg(windows)]
mod focus;
#[cfg(target_os = "linux")]
mod keys;
mod opening;
mod reader;
mod references;
mod repaint;
mod thread_end;
#[cfg(any(target_os = "linux", windows))]
mod wants;

pub use opening::HostedEditor;
pub use reader::{ModelReader, read_strip};
pub use repaint::Repaint;

use crate::editor::model::{Action, SongEdit, Source};
use crate::editor::{self, ViewPrefs, ViewState};
use crate::params::{MAX_EDITS, PlimsollParams};
use crate::record::{RecordReader, TrimUndo};
use crate::shared::Shared;
use crate::snapshot::{self, Export};
use crate::state::{Song, plain_name};
use nice_plug::context::gui::GuiContext;
use nice_plug::prelude::nice_error;
use nice_plug_egui::baseview::{HandlerError, WindowSize};
use nice_plug_egui::{Frame, KeyCapture, NiceEguiApp};
use opening::Shown;
use parking_lot::Mutex;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use thread_end::ThreadEnd;

/// Makes the framework's editor for one plugin instance.
#[must_use]
pub fn editor(
    params: &Arc<PlimsollParams>,
    shared: &Arc<Shared>,
    repaint: &Repaint,
) -> HostedEditor {
    let lasting = Lasting {
        params: Arc::clone(params),
        shared: Arc::clone(shared),
        repaint: repaint.clone(),
        shown: Arc::default(),
        undo_reset: Arc::default(),
    };
    HostedEditor { lasting }
}

/// What outlives an opening of the editor.
#[derive(Clone)]
struct Lasting {
    params: Arc<PlimsollParams>,
    shared: Arc<Shared>,
    repaint: Repaint,
    /// The open window.
    shown: Arc<Mutex<Option<Shown>>>,
    /// What brings back the last reset or trim, and of which record.
    undo_reset: Arc<Mutex<Option<(RecordReader, Forgotten)>>>,
}

/// While a snapshot is written, the editor looks this often whether it is done.
const LOOK_AGAIN: Duration = Duration::from_millis(100);

/// What was forgotten last, and what brings it back.
enum Forgotten {
    /// All of it; the first playthrough that counted.
    All(u32),
    /// What lay behind a place.
    Behind(TrimUndo),
}

/// The editor while its window is open.
pub struct EditorApp {
    lasting: Lasting,
    reader: ModelReader,
    view: ViewState,
    /// What of it was kept last: another value came with a project.
    kept: ViewPrefs,
    /// How much the window magnifies: what is chosen counts from the next frame on.
    zoom: f32,
    actions: Vec<Action>,
    host: Option<GuiContext>,
    thread_end: Arc<ThreadEnd>,
    #[cfg(target_os = "linux")]
    keys: Option<keys::Keys>,
    #[cfg(windows)]
    focus: Option<focus::Focus>,
    #[cfg(target_os = "linux")]
    drops: Option<drops::Drops>,
    /// Files that were dropped since the last frame.
    dropped: Arc<Mutex<Vec<PathBuf>>>,
    /// The drawing code panicked: a message stands in its place, metering goes on.
    failed: bool,
}

impl NiceEguiApp for EditorApp {
    fn build(
        &mut self,
        egui_ctx: egui::Context,
        host: GuiContext,
        frame: &mut Frame,
    ) -> Result<(), HandlerError> {
        editor::install(&egui_ctx);
        // egui gives keys back to the host unless a text field wants them.
        frame.set_key_capture(KeyCapture::CaptureAll);
        // Elsewhere windows live on the host's own thread.
        if cfg!(target_os = "linux") {
            self.thread_end.mark_this_thread();
        }
        // On macOS keys come back by themselves.
        #[cfg(windows)]
        {
            self.focus = focus::Focus::new(frame.baseview_window());
        }
        #[cfg(target_os = "linux")]
        {
            self.keys = keys::Keys::new(frame.baseview_window());
            let (dropped, repaint) = (Arc::clone(&self.dropped), self.lasting.repaint.clone());
            self.drops = drops::Drops::new(frame.baseview_window(), move |paths| {
                dropped.lock().extend(paths);
                repaint.request();
            });
        }
        self.host = Some(host);
        Ok(())
    }

    fn ui(&mut self, ui: &mut egui::Ui, _: &mut Frame) {
        // A host may hide the window that the editor lies in and say nothing.
        #[cfg(target_os = "linux")]
        if let Some(keys) = &self.keys {
            let is_hidden = !keys.window_is_viewable();
            self.lasting.repaint.set_hidden(is_hidden);
            if is_hidden {
                return;
            }
        }
        let ctx = ui.ctx().clone();
        #[cfg(target_os = "linux")]
        let wanted = wants::Wants::of(&ctx);
        self.take_loaded_view(&ctx);
        self.draw(ui);
        #[cfg(target_os = "linux")]
        if let Some(keys) = &self.keys {
            // A key that ends a text field's focus was still the field's.
            let wants = wants::Wants::of(&ctx);
            keys.pass_on(if wanted == wants::Wants::Text { wanted } else { wants });
        }
        #[cfg(windows)]
        if let Some(focus) = &self.focus {
            focus.follow(&ctx, wants::Wants::of(&ctx));
        }
    }

    fn resized(&mut self, size: WindowSize) {
        *self.lasting.shown.lock() = Some(Shown::new(size, f64::from(self.zoom)));
        self.keep(ViewPrefs {
            width: narrow(size.logical.width),
            height: narrow(size.logical.height),
            ..self.kept
        });
    }

    fn zoom_factor_changed(&mut self, zoom: f32) {
        self.zoom = zoom;
    }
}

impl EditorApp {
    fn new(lasting: Lasting, thread_end: Arc<ThreadEnd>) -> Self {
        let kept = lasting.params.view.get();
        let mut reader = ModelReader::new(Arc::clone(&lasting.shared));
        reader.set_can_undo_reset(lasting.undo_reset.lock().is_some());
        let mut view = ViewState::from_prefs(&kept);
        view.resizable = true;
        Self {
            reader,
            view,
            zoom: kept.zoom,
            kept,
            lasting,
            actions: Vec::new(),
            host: None,
            thread_end,
            #[cfg(target_os = "linux")]
            keys: None,
            #[cfg(windows)]
            focus: None,
            #[cfg(target_os = "linux")]
            drops: None,
            dropped: Arc::default(),
            failed: false,
        }
    }

    /// A view that came with a project takes the place of the present one.
    fn take_loaded_view(&mut self, ctx: &egui::Context) {
        let prefs = self.lasting.params.view.get();
        if prefs != self.kept {
            self.kept = prefs;
            self.view.prefs = prefs;
            let size = egui::vec2(prefs.width, prefs.height);
            ctx.send_viewport_cmd(egui::ViewportCommand::InnerSize(size));
        }
    }

    fn draw(&mut self, ui: &mut egui::Ui) {
        if self.failed {
            editor::draw_failure(ui);
            return;
        }
        let ctx = ui.ctx().clone();
        ctx.set_zoom_factor(self.view.prefs.zoom);
        // A panic that left this function would end the window.
        let drawn = catch_unwind(AssertUnwindSafe(|| {
            fail_if_asked();
            let dropped = std::mem::take(&mut *self.dropped.lock());
            editor::drop_files(&ctx, dropped);
            let model = self.reader.refresh(&self.view.asked());
            editor::draw(ui, model, &mut self.view, &mut self.actions);
        }));
        if drawn.is_err() {
            nice_error!("the editor's drawing failed; metering goes on");
            self.failed = true;
            self.actions.clear();
            ctx.request_repaint();
        }
        if !self.actions.is_empty() {
            // What was asked for shows in the next frame.
            ctx.request_repaint();
        }
        for action in std::mem::take(&mut self.actions) {
            self.act(action);
        }
        if let Some(summary) = self.lasting.shared.export.take_summary() {
            ctx.copy_text(summary);
        }
        if self.lasting.shared.export.shown() == Export::Writing {
            ctx.request_repaint_after(LOOK_AGAIN);
        }
        self.follow_references(&ctx);
        if self.view.figures_wait {
            // They come with what is measured until then, not in a frame of their own.
            self.lasting.repaint.request();
        }
        self.keep(self.view.prefs(&self.kept));
    }

    /// Keeps the view in the project, unless another one came with it in this moment.
    fn keep(&mut self, prefs: ViewPrefs) {
        self.kept = self.lasting.params.view.replace(self.kept, prefs);
    }
}

impl EditorApp {
    fn act(&mut self, action: Action) {
        let edit = |edit: &dyn Fn(&mut crate::state::Settings)| {
            self.lasting.shared.edit_settings(edit);
            self.mark_edited();
        };
        match action {
            Action::ChooseTarget(index) => {
                // The gain belongs to the target that it was switched on for.
                self.lasting.shared.listening.stop();
                edit(&|settings| settings.choose(index));
            }
            Action::ShowBeside(index, is_beside) => {
                edit(&|settings| settings.set_beside(index, is_beside));
            }
            Action::AddTarget(target) => edit(&|settings| settings.add(target.clone())),
            Action::ReplaceTarget(index, target) => {
                edit(&|settings| settings.replace(index, target.clone()));
            }
            Action::DeleteTarget(index) => edit(&|settings| settings.delete(index)),
            Action::ListenMatched => self.reader.listen_matched(),
            Action::ListenLikeReference => self.reader.listen_like_reference(),
            Action::ListenPlain => self.lasting.shared.listening.stop(),
            Action::Pause => self.lasting.shared.status.set_running(false),
            Action::Continue => self.lasting.shared.status.set_running(true),
            Action::Reset => {
                if let Some(record) = self.record_on_screen() {
                    let before = record.reset();
                    self.remember((record, Forgotten::All(before)));
                }
            }
            Action::Trim => {
                let end_hop = self.lasting.shared.status.playhead_hop();
                if let Some((record, end_hop)) = self.record_on_screen().zip(end_hop) {
                    let before = record.trim(end_hop);
                    self.remember((record, Forgotten::Behind(before)));
                }
            }
            Action::UndoReset => match self.lasting.undo_reset.lock().take() {
                Some((record, Forgotten::All(before))) => record.undo_reset(before),
                Some((record, Forgotten::Behind(before))) => record.undo_trim(before),
                None => {}
            },
            Action::SetTheme(theme) => self.view.set_theme(theme),
            Action::Song(edit) => self.edit_song(&edit),
            Action::Reference(edit) => self.edit_references(edit),
            Action::ReadMarkers(path) => match edits::read_markers(&path) {
                Ok(markers) => self.edit_song(&SongEdit::TakeMarkers(markers)),
                Err(why) => self.reader.set_refusal(Some(why)),
            },
            Action::Snapshot(order) => {
                let is_news = |song: &Song| song.name != order.song || song.folder != order.folder;
                if self.lasting.shared.with_song(is_news) {
                    self.lasting.shared.edit_song(|song| {
                        song.name = plain_name(&order.song);
                        song.folder.clone_from(&order.folder);
                    });
                    self.mark_edited();
                }
                let source = match self.reader.source() {
                    Source::Song => snapshot::Source::Song,
                    Source::Live => snapshot::Source::Live,
                };
                self.lasting.shared.start_export(source, order);
            }
            Action::ForgetExport => self.lasting.shared.export.forget(),
            Action::Propose => self.reader.propose(),
            Action::DropProposal => self.reader.drop_proposal(),
            Action::ForgetRefusal => self.reader.set_refusal(None),
        }
        self.reader.set_can_undo_reset(self.lasting.undo_reset.lock().is_some());
    }

    fn remember(&self, forgotten: (RecordReader, Forgotten)) {
        *self.lasting.undo_reset.lock() = Some(forgotten);
    }

    fn record_on_screen(&self) -> Option<RecordReader> {
        let sources = self.lasting.shared.sources()?;
        Some(match self.reader.source() {
            Source::Song => sources.song,
            Source::Live => sources.live,
        })
    }

    /// Does an edit of the song, or says why not.
    fn edit_song(&mut self, edit: &SongEdit) {
        let context = edits::Context {
            playhead_hop: self.lasting.shared.status.playhead_hop(),
            loop_range_s: self.lasting.shared.status.loop_range_s(),
            bars: self.lasting.shared.bar_grid(),
            snap: self.view.prefs.snap_to_bars,
            proposal: self.reader.proposal(),
        };
        let (revision, done) = self.lasting.shared.edit_song(|song| {
            let before = song.sections.revision();
            let done = edits::apply(edit, song, &context);
            (song.sections.revision() != before, done)
        });
        match done {
            Ok(selected) => {
                if let Some(selected) = selected {
                    self.view.selected = Some(selected);
                }
                if matches!(edit, SongEdit::TakeProposal(_)) {
                    self.reader.drop_proposal();
                }
                if revision || edits::is_beside_the_sections(edit) {
                    self.mark_edited();
                }
                self.reader.set_refusal(None);
            }
            Err(why) => self.reader.set_refusal(Some(why)),
        }
    }

    /// Tells the host that the project was modified, the only way there is: a parameter moves.
    fn mark_edited(&self) {
        if let Some(host) = &self.host {
            let edits = &self.lasting.params.edits;
            let next = if edits.value() >= MAX_EDITS { 0 } else { edits.value() + 1 };
            let setter = host.param_setter();
            setter.begin_set_parameter(edits);
            setter.set_parameter(edits, next);
            setter.end_set_parameter(edits);
        }
    }
}

/// Lets a test see what happens when drawing fails; nothing of it is in a release build.
fn fail_if_asked() {
    #[cfg(debug_assertions)]
    if std::env::var_os("PLIMSOLL_FAIL_IN_EDITOR").is_some() {
        panic!("PLIMSOLL_FAIL_IN_EDITOR asks for it");
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a size on a screen")]
const fn narrow(points: f64) -> f32 {
    points as f32
}

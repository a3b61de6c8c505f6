//! The editor in a host's window: reads the records into the model, lets the editor draw it, and
//! carries out what the user asked for.

mod edits;
mod reader;
mod references;

pub use reader::{ModelReader, read_strip};

use crate::editor::model::{Action, SongEdit, Source};
use crate::editor::{self, MIN_SIZE, ViewState};
use crate::params::{MAX_EDITS, PlimsollParams};
use crate::record::{RecordReader, TrimUndo};
use crate::shared::Shared;
use crate::snapshot::{self, Export};
use crate::state::{Song, plain_name};
use nice_plug::context::gui::GuiContext;
use nice_plug::editor::ResizeHint;
use nice_plug::editor::dpi::LogicalSize;
use nice_plug::prelude::{TrackInfo, nice_error};
use nice_plug_egui::baseview::{HandlerError, WindowSize};
use nice_plug_egui::{
    EguiEditor, EguiEditorState, EguiNiceSettings, Frame, KeyCapture, NiceEguiApp, RepaintNotifier,
    create_egui_editor,
};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::time::Duration;

/// Makes the framework's editor for one plugin instance.
#[must_use]
pub fn editor(
    params: &Arc<PlimsollParams>,
    shared: &Arc<Shared>,
    repaint: &RepaintNotifier,
) -> Option<EguiEditor<EditorApp>> {
    let [min_width, min_height] = MIN_SIZE;
    let prefs = params.view.get();
    let size = LogicalSize::new(prefs.width, prefs.height);
    let settings = EguiNiceSettings::new().with_tile("Plimsoll").with_resize_hint(
        ResizeHint::RESIZABLE.with_min_logical_size(LogicalSize::new(min_width, min_height)),
    );
    let app = EditorApp {
        params: Arc::clone(params),
        shared: Arc::clone(shared),
        reader: ModelReader::new(Arc::clone(shared)),
        view: ViewState::default(),
        actions: Vec::new(),
        host: None,
        undo_reset: None,
        restore_size: false,
        failed: false,
    };
    create_egui_editor(EguiEditorState::from_size(size, 1.0), repaint.clone(), settings, app)
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

/// One editor of one plugin instance, opened and closed any number of times.
pub struct EditorApp {
    params: Arc<PlimsollParams>,
    shared: Arc<Shared>,
    reader: ModelReader,
    view: ViewState,
    actions: Vec<Action>,
    host: Option<GuiContext>,
    /// What brings back the last reset or trim, and of which record.
    undo_reset: Option<(RecordReader, Forgotten)>,
    restore_size: bool,
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
        self.host = Some(host);
        self.view = ViewState::from_prefs(&self.params.view.get());
        self.restore_size = true;
        self.failed = false;
        Ok(())
    }

    fn ui(&mut self, ui: &mut egui::Ui, _: &mut Frame) {
        if self.restore_size {
            self.restore_size = false;
            let prefs = self.params.view.get();
            let wanted = egui::vec2(prefs.width, prefs.height);
            if (ui.ctx().content_rect().size() - wanted).length() > 1.0 {
                ui.ctx().send_viewport_cmd(egui::ViewportCommand::InnerSize(wanted));
            }
        }
        if self.failed {
            editor::draw_failure(ui);
            return;
        }
        // A panic that left this function would end the host.
        let drawn = catch_unwind(AssertUnwindSafe(|| {
            let model = self.reader.refresh(&self.view.asked());
            editor::draw(ui, model, &mut self.view, &mut self.actions);
        }));
        if drawn.is_err() {
            nice_error!("the editor's drawing failed; metering goes on");
            self.failed = true;
            self.actions.clear();
            ui.ctx().request_repaint();
        }
        if !self.actions.is_empty() {
            // What was asked for shows in the next frame.
            ui.ctx().request_repaint();
        }
        for action in std::mem::take(&mut self.actions) {
            self.act(action);
        }
        if let Some(summary) = self.shared.export.take_summary() {
            ui.ctx().copy_text(summary);
        }
        if self.shared.export.shown() == Export::Writing {
            ui.ctx().request_repaint_after(LOOK_AGAIN);
        }
        self.follow_references(ui.ctx());
        let prefs = self.view.prefs(&self.params.view.get());
        self.params.view.put(prefs);
    }

    fn resized(&mut self, size: WindowSize) {
        let mut prefs = self.params.view.get();
        prefs.width = narrow(size.logical.width);
        prefs.height = narrow(size.logical.height);
        self.params.view.put(prefs);
    }

    fn track_info_changed(&mut self, info: TrackInfo) {
        self.shared.set_track(info.name());
    }
}

impl EditorApp {
    fn act(&mut self, action: Action) {
        let edit = |edit: &dyn Fn(&mut crate::state::Settings)| {
            self.shared.edit_settings(edit);
            self.mark_edited();
        };
        match action {
            Action::ChooseTarget(index) => {
                // The gain belongs to the target that it was switched on for.
                self.shared.listening.stop();
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
            Action::ListenPlain => self.shared.listening.stop(),
            Action::Pause => self.shared.status.set_running(false),
            Action::Continue => self.shared.status.set_running(true),
            Action::Reset => {
                if let Some(record) = self.record_on_screen() {
                    let before = record.reset();
                    self.undo_reset = Some((record, Forgotten::All(before)));
                }
            }
            Action::Trim => {
                let end_hop = self.shared.status.playhead_hop();
                if let Some((record, end_hop)) = self.record_on_screen().zip(end_hop) {
                    let before = record.trim(end_hop);
                    self.undo_reset = Some((record, Forgotten::Behind(before)));
                }
            }
            Action::UndoReset => match self.undo_reset.take() {
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
                if self.shared.with_song(is_news) {
                    self.shared.edit_song(|song| {
                        song.name = plain_name(&order.song);
                        song.folder.clone_from(&order.folder);
                    });
                    self.mark_edited();
                }
                let source = match self.reader.source() {
                    Source::Song => snapshot::Source::Song,
                    Source::Live => snapshot::Source::Live,
                };
                self.shared.start_export(source, order);
            }
            Action::ForgetExport => self.shared.export.forget(),
            Action::Propose => self.reader.propose(),
            Action::DropProposal => self.reader.drop_proposal(),
            Action::ForgetRefusal => self.reader.set_refusal(None),
        }
        self.reader.set_can_undo_reset(self.undo_reset.is_some());
    }

    fn record_on_screen(&self) -> Option<RecordReader> {
        let sources = self.shared.sources()?;
        Some(match self.reader.source() {
            Source::Song => sources.song,
            Source::Live => sources.live,
        })
    }

    /// Does an edit of the song, or says why not.
    fn edit_song(&mut self, edit: &SongEdit) {
        let context = edits::Context {
            playhead_hop: self.shared.status.playhead_hop(),
            loop_range_s: self.shared.status.loop_range_s(),
            bars: self.shared.bar_grid(),
            snap: self.view.prefs.snap_to_bars,
            proposal: self.reader.proposal(),
        };
        let (revision, done) = self.shared.edit_song(|song| {
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
            let edits = &self.params.edits;
            let next = if edits.value() >= MAX_EDITS { 0 } else { edits.value() + 1 };
            let setter = host.param_setter();
            setter.begin_set_parameter(edits);
            setter.set_parameter(edits, next);
            setter.end_set_parameter(edits);
        }
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a size on a screen")]
const fn narrow(points: f64) -> f32 {
    points as f32
}

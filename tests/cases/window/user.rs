//! A user before the window, who clicks on what is named so. Where it lies, a twin of the editor
//! says: the same drawing without a window, of what the plugin keeps in the project and of what
//! meters of our own measured in the same song.

use crate::desk::{Editor, RATE_HZ, SIZE, active_host, demo_song, run};
use egui::{Rect, UiBuilder, pos2, vec2};
use egui_kittest::kittest::Queryable as _;
use egui_kittest::{Harness, Node};
use plimsoll::editor::model::{Model, TransportState};
use plimsoll::editor::{self, ViewState};
use plimsoll::section::{BarGrid, Edit, SectionLog, measure};
use plimsoll::state::{Settings, Song, load_references};
use plimsoll::target::Distance;
use plimsoll::window::read_strip;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::host::Host;
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells};

struct Twin {
    model: Model,
    view: ViewState,
}

pub struct User {
    pub editor: Editor,
    direct: Direct,
    twin: Harness<'static, Twin>,
}

impl User {
    /// Opens the editor of a new plugin.
    pub fn new() -> Self {
        Self::of(active_host())
    }

    /// Opens the editor of an active plugin.
    pub fn of(host: Host) -> Self {
        let size = vec2(SIZE.width as f32, SIZE.height as f32);
        let twin =
            Harness::builder().with_size(size).with_context_setup(editor::install).build_ui_state(
                |ui, twin: &mut Twin| {
                    // The harness leaves a margin; a window has none.
                    let whole = UiBuilder::new().max_rect(ui.ctx().content_rect());
                    ui.scope_builder(whole, |ui| {
                        editor::draw(ui, &twin.model, &mut twin.view, &mut Vec::new());
                    });
                },
                Twin { model: Model::empty(), view: ViewState::default() },
            );
        let direct = Direct::new(RATE_HZ as u32, 2, 512);
        let mut user = Self { editor: Editor::open(host, 1.0), direct, twin };
        user.look();
        user
    }

    /// Does `steps` in the demo song.
    pub fn run(&mut self, steps: &[Step]) {
        run(&mut self.editor.host, steps);
        let telling = Telling::new(Tells::Everything);
        self.direct.run(demo_song(), steps, &telling, &Blocks::Fixed(512));
        self.look();
    }

    /// What the project keeps of the song.
    pub fn song(&mut self) -> Song {
        Song::load(&self.editor.kept("song")).unwrap().0
    }

    /// The name of the chosen target.
    pub fn target(&mut self) -> String {
        self.settings().chosen_target().unwrap().name.clone()
    }

    fn settings(&mut self) -> Settings {
        Settings::load(&self.editor.kept("settings")).unwrap().0
    }

    /// Brings the twin up to date.
    pub fn look(&mut self) {
        let (song, settings) = (self.song(), self.settings());
        let references = load_references(&self.editor.kept("references")).unwrap();
        let mut analysis = self.direct.analysis();
        let mut log = SectionLog::default();
        log.update(song.sections.as_slice(), &mut analysis);
        let model = &mut self.twin.state_mut().model;
        model.transport = TransportState::Playing;
        model.playhead_hop = Some(self.direct.status().playhead_hop().unwrap_or(0));
        model.figures = analysis.song_figures();
        read_strip(&analysis, &mut model.strip);
        model.bars = BarGrid::steady(0.0, 120.0, 4.0).ok();
        model.targets = settings.targets().cloned().collect();
        model.built_in_count = settings.built_in_count();
        model.chosen_target = settings.chosen();
        let target = model.targets.get(model.chosen_target);
        model.distance = target.map(|target| Distance::new(&model.figures, target));
        model.reference.list = references;
        // The project keeps no history; there is one.
        model.song.next_undo = Some(Edit::MoveEdge);
        model.song.sections = song.sections.as_slice().to_vec();
        model.song.log = log.entries().to_vec();
        model.song.name = song.name;
        let range = self.twin.state().view.asked().range;
        let range = range.map(|range| (range.clone(), measure(&mut analysis, range)));
        let twin = self.twin.state_mut();
        twin.model.song.range = range;
        // A new section is selected.
        twin.view.selected = twin.model.song.sections.iter().map(|section| section.id).max();
        self.twin.run();
    }

    /// Where it lies whose name is `name`, or else holds it.
    pub fn place(&self, name: &str) -> Rect {
        self.node(name).rect()
    }

    /// Clicks on it.
    pub fn click(&mut self, name: &str) {
        let at = self.place(name).center();
        self.editor.parent.click(at.x as i16, at.y as i16).unwrap();
        self.node(name).click();
        self.twin.run();
    }

    /// Drags from one place to another.
    pub fn drag(&mut self, from: (i16, i16), to: (i16, i16)) {
        self.editor.parent.drag(from, to).unwrap();
        let [from, to] = [from, to].map(|(x, y)| pos2(f32::from(x), f32::from(y)));
        self.twin.drag_at(from);
        self.twin.run();
        self.twin.hover_at(to);
        self.twin.run();
        self.twin.drop_at(to);
        self.twin.run();
        self.look();
    }

    fn node<'a>(&'a self, name: &'a str) -> Node<'a> {
        let exactly = self.twin.query_by_label(name);
        exactly.unwrap_or_else(|| self.twin.get_by_label_contains(name))
    }

    /// Waits until the project keeps what is wanted, and looks again.
    pub fn until(&mut self, what: &str, mut done: impl FnMut(&mut Song, &Settings) -> bool) {
        for _ in 0..500 {
            if done(&mut self.song(), &self.settings()) {
                self.look();
                return;
            }
            self.editor.host.idle();
            std::thread::sleep(std::time::Duration::from_millis(20));
        }
        panic!("waited in vain: {what}");
    }
}

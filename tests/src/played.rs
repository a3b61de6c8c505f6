//! An editor without a window, over a song that plays on: for what a frame costs.

use crate::audio_file::Audio;
use egui::{ClippedPrimitive, Context, RawInput, Rect, vec2};
use plimsoll::audio::{HostPosition, Outputs, Recorder};
use plimsoll::editor::{self, DEFAULT_SIZE, ViewState};
use plimsoll::meters::layout::Layout;
use plimsoll::section::Place;
use plimsoll::shared::Shared;
use plimsoll::units::SampleRate;
use plimsoll::window::ModelReader;
use std::sync::Arc;

const BLOCK_FRAMES: usize = 512;

/// Recorder, records and editor of one plugin, and how far the song was played.
pub struct Played<'a> {
    song: &'a Audio,
    recorder: Recorder,
    reader: ModelReader,
    at_frame: usize,
    /// What the user chose to see.
    pub view: ViewState,
    ctx: Context,
    time_s: f64,
}

impl<'a> Played<'a> {
    /// After `minutes` of `song`, round and round, with `sections` sections of equal length.
    ///
    /// # Panics
    /// If the meters are not built for the song, or the sections are too short.
    #[must_use]
    pub fn new(song: &'a Audio, minutes: usize, sections: usize) -> Self {
        let rate = SampleRate::new(song.rate_hz).unwrap_or_else(|error| panic!("{error}"));
        let layout = Layout::from_channel_count(song.channels.len());
        let layout = layout.unwrap_or_else(|| panic!("no layout with so many channels"));
        let (outputs, sources) = Outputs::with_tone(layout, false);
        let shared = Arc::new(Shared::default());
        shared.set_rate_hz(song.rate_hz);
        shared.set_sources(sources);
        let recorder = Recorder::new(rate, outputs, Arc::clone(&shared.status))
            .with_max_block(BLOCK_FRAMES as u32);
        let section_s = minutes as f64 * 60.0 / sections as f64;
        shared.edit_song(|song| {
            for number in 0..sections {
                let [start, end] = [number, number + 1].map(|edge| edge as f64 * section_s);
                let added = song.sections.add_range(Place::at(start), Place::at(end), None);
                added.unwrap_or_else(|error| panic!("{error}"));
            }
        });
        let ctx = Context::default();
        editor::install(&ctx);
        let mut played = Self {
            song,
            recorder,
            reader: ModelReader::new(shared),
            at_frame: 0,
            view: ViewState::default(),
            ctx,
            time_s: 0.0,
        };
        played.play_on(minutes * 60 * 1_000);
        played
    }

    /// Plays on for so long.
    pub fn play_on(&mut self, len_ms: usize) {
        let rate_hz = self.song.rate_hz as usize;
        let end = self.at_frame + rate_hz * len_ms / 1_000;
        let song_len = self.song.len_frames();
        while self.at_frame < end {
            let start = self.at_frame % song_len;
            let len = BLOCK_FRAMES.min(song_len - start).min(end - self.at_frame);
            let block: Vec<&[f32]> =
                self.song.channels.iter().map(|channel| &channel[start..start + len]).collect();
            let seconds = Some(self.at_frame as f64 / rate_hz as f64);
            let position = HostPosition { playing: true, seconds, ..HostPosition::default() };
            self.recorder.process(&block, &position);
            self.at_frame += len;
        }
    }

    /// One frame at the size of a first start, `step_s` after the one before: what a graphics card
    /// is given to draw.
    pub fn frame(&mut self, step_s: f64) -> Vec<ClippedPrimitive> {
        self.time_s += step_s;
        let [width_pt, height_pt] = DEFAULT_SIZE;
        let input = RawInput {
            screen_rect: Some(Rect::from_min_size(egui::Pos2::ZERO, vec2(width_pt, height_pt))),
            time: Some(self.time_s),
            ..RawInput::default()
        };
        let mut actions = Vec::new();
        let (reader, view) = (&mut self.reader, &mut self.view);
        let mut output = self.ctx.run_ui(input, |ui| {
            let model = reader.refresh(&view.asked());
            editor::draw(ui, model, view, &mut actions);
        });
        output.textures_delta.clear();
        self.ctx.tessellate(output.shapes, output.pixels_per_point)
    }
}

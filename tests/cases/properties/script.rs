//! Random transport scripts, how they are played, and how they are made shorter.

use super::model::{Border, Model};
use plimsoll::record::RecordReader;
use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::noise::Rng;
use plimsoll_tests::transport::{Blocks, Event, Rounding, Step, Telling, Tells, playback};

/// Something that the user or the host does, from the present place on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Act {
    /// Goes to `frame`, while playing, and plays.
    Go { version: usize, frame: i64, len_frames: usize },
    /// Plays on; with another version than before, something was edited meanwhile.
    On { version: usize, len_frames: usize },
    /// Enters a loop at its start and plays round and round.
    Loop { version: usize, start_frame: i64, end_frame: i64, len_frames: usize },
    /// The transport stands.
    Stand { len_frames: usize },
    /// The host lets the plugin rest.
    Rest,
    /// The host plays on, measuring is paused.
    Pause { len_frames: usize },
    /// The host plays on, the plugin is bypassed.
    Bypass { len_frames: usize },
    /// The user forgets all that was measured.
    Forget,
    /// The same, undone at once.
    ForgetAndUndo,
    /// The user forgets what lies behind the end of a song that was cut shorter, at a hop.
    Trim { end_hop: i32 },
    /// The same, undone at once.
    TrimAndUndo { end_hop: i32 },
}

/// A script and the host that plays it.
#[derive(Debug, Clone, PartialEq)]
pub struct Script {
    pub seed: u64,
    pub rate_hz: u32,
    pub telling: Telling,
    pub blocks: Blocks,
    pub acts: Vec<Act>,
}

/// Rates, with a whole and a broken number of frames in a hop.
pub const RATES_HZ: [u32; 6] = [8_000, 11_025, 16_000, 22_050, 44_100, 48_000];

/// How the song's versions are told apart; the last is the final one.
pub const VERSIONS: usize = 3;
pub const FINAL: usize = VERSIONS - 1;

/// Before song time zero, s.
pub const COUNT_IN_S: f64 = 1.5;
/// Played on behind the song's end at most, s.
pub const BEHIND_S: f64 = 0.5;

pub fn song_len_s(rate_hz: u32) -> f64 {
    if rate_hz > 22_050 { 4.0 } else { 7.0 }
}

/// Why a script that ought to play all of a song fails, if it does not.
pub const NOT_COVERED: &str = "the script does not cover the song";

impl Script {
    /// The script of `seed`. With `covering`, the final version is played to the end of it, in
    /// pieces, in any order.
    pub fn new(seed: u64, covering: bool, tells: &[Tells]) -> Self {
        let mut rng = Rng::new(seed);
        let rate_hz = RATES_HZ[[0, 0, 1, 1, 2, 3, 3, 4, 5][rng.between(0, 8)]];
        let blocks = match rng.between(0, 3) {
            0 => Blocks::Fixed([64, 128, 100, 333][rng.between(0, 3)]),
            1 => Blocks::InTurn((0..4).map(|_| rng.between(1, 400)).collect()),
            _ => Blocks::Random { seed: rng.next_u64(), max_frames: rng.between(2, 512) },
        };
        let rounding = match rng.between(0, 3) {
            0 => Rounding::Millisecond,
            1 => Rounding::Block(rng.between(1, 8) * 64),
            _ => Rounding::Exact,
        };
        let tempo_bpm = rng.between(60, 200) as f64 + rng.unit();
        let tells = tells[rng.between(0, tells.len() - 1)];
        let telling = Telling { tempo_map: vec![(0, tempo_bpm)], ..Telling::new(tells) };
        let mut script =
            Self { seed, rate_hz, telling: telling.rounded(rounding), blocks, acts: Vec::new() };
        for _ in 0..rng.between(1, 12) {
            let act = script.any_act(&mut rng);
            script.acts.push(act);
        }
        if covering {
            script.cover(&mut rng);
        }
        script
    }

    /// Places where a host that rounds can be told to go: those that it tells as they are.
    fn grain_frames(&self) -> i64 {
        match self.telling.rounding {
            Rounding::Exact => 1,
            Rounding::Millisecond => {
                let rate = i64::from(self.rate_hz);
                (1..).map(|ms| ms * rate).find(|frames| frames % 1_000 == 0).unwrap() / 1_000
            }
            Rounding::Block(frames) => frames as i64,
        }
    }

    fn frames(&self, seconds: f64) -> i64 {
        let frames = (seconds * f64::from(self.rate_hz)) as i64;
        frames.div_euclid(self.grain_frames()) * self.grain_frames()
    }

    fn any_len(&self, rng: &mut Rng, longest_s: f64) -> usize {
        self.frames(longest_s * rng.unit()).max(self.grain_frames()) as usize
    }

    fn any_place(&self, rng: &mut Rng) -> i64 {
        let len_s = song_len_s(self.rate_hz);
        match rng.between(0, 9) {
            0 => 0,
            1 => self.frames(-COUNT_IN_S * rng.unit()),
            // On a border of hops, as far as the host can go there.
            2 => self.frames((len_s * rng.unit() * 100.0).floor() / 100.0),
            _ => self.frames(len_s * rng.unit()),
        }
    }

    fn any_act(&self, rng: &mut Rng) -> Act {
        let version = rng.between(0, VERSIONS - 1);
        match rng.between(0, 17) {
            0..=4 => {
                Act::Go { version, frame: self.any_place(rng), len_frames: self.any_len(rng, 2.0) }
            }
            5..=7 => Act::On { version, len_frames: self.any_len(rng, 1.5) },
            8 | 9 => {
                let start_frame = self.any_place(rng);
                // Rounded to a host block the loop must still be long enough to be seen.
                let shortest = self.min_jump_frames() / self.grain_frames() + 1;
                let len = shortest * self.grain_frames() + self.frames(0.8 * rng.unit());
                let len_frames = self.any_len(rng, 2.0);
                Act::Loop { version, start_frame, end_frame: start_frame + len, len_frames }
            }
            10 => Act::Stand { len_frames: self.any_len(rng, 0.3) },
            11 => Act::Rest,
            12 => Act::Pause { len_frames: self.any_len(rng, 0.5) },
            13 => Act::Bypass { len_frames: self.any_len(rng, 0.5) },
            14 => Act::Forget,
            15 => Act::ForgetAndUndo,
            16 => Act::Trim { end_hop: rng.between(0, 700) as i32 },
            _ => Act::TrimAndUndo { end_hop: rng.between(0, 700) as i32 },
        }
    }

    /// Pieces of the final version from before its start to behind its end. Each starts with a
    /// stop, as a user's would, or with a jump.
    fn cover(&mut self, rng: &mut Rng) {
        let end = self.end_frame();
        let mut cuts = vec![self.frames(-0.5), end];
        for _ in 0..rng.between(0, 6) {
            cuts.push(self.any_place(rng).clamp(cuts[0], end));
        }
        cuts.sort_unstable();
        cuts.dedup();
        let mut pieces: Vec<_> = cuts.windows(2).map(|cut| (cut[0], cut[1])).collect();
        while !pieces.is_empty() {
            let (frame, until) = pieces.swap_remove(rng.between(0, pieces.len() - 1));
            if rng.between(0, 1) == 0 {
                self.acts.push(Act::Stand { len_frames: 200 });
            }
            let len_frames = (until - frame) as usize;
            self.acts.push(Act::Go { version: FINAL, frame, len_frames });
        }
        self.acts.push(Act::Stand { len_frames: 200 });
    }

    /// Where [`Script::cover`] ends.
    pub fn end_frame(&self) -> i64 {
        self.frames(song_len_s(self.rate_hz) + BEHIND_S)
    }

    fn max_frames(&self) -> usize {
        let rounded = match self.telling.rounding {
            Rounding::Block(frames) => frames,
            Rounding::Exact | Rounding::Millisecond => 1,
        };
        self.blocks.max_frames().max(rounded)
    }

    /// A playing host that goes elsewhere by less cannot be told from one that rounds: a block,
    /// which it may tell late by, and 10 ms (`audio::Clock`).
    fn min_jump_frames(&self) -> i64 {
        self.max_frames() as i64 + i64::from(self.rate_hz) / 100 + 2
    }

    /// Plays it through the recorder and past the model.
    pub fn play(&self, songs: &[Audio; VERSIONS]) -> (Direct, Model, Option<Tape>) {
        let channels = songs[0].channels.len();
        let tape = Tape { planes: vec![Vec::new(); channels], unheard: vec![Vec::new(); channels] };
        let mut player = Player {
            script: self,
            songs,
            direct: Direct::new(self.rate_hz, channels, self.max_frames()),
            model: Model::new(self.rate_hz),
            frame: 0,
            is_moving: false,
            live: matches!(self.telling.tells, Tells::Playing | Tells::Nothing).then_some(tape),
        };
        if player.live.is_some() {
            player.model.after_silence = Border::Silence;
        }
        for (index, act) in self.acts.iter().enumerate() {
            player.act(index, *act);
        }
        player.direct.stop();
        player.model.end_run(Border::Silence);
        (player.direct, player.model, player.live)
    }

    /// The shortest script found that still fails `check`, by leaving out act after act; not for
    /// [`NOT_COVERED`], which that may come to.
    pub fn shrunk(mut self, check: impl Fn(&Self) -> Result<usize, String>) -> Self {
        let mut at = 0;
        while at < self.acts.len() {
            let mut shorter = self.clone();
            shorter.acts.remove(at);
            if check(&shorter).is_err_and(|why| why != NOT_COVERED) {
                self = shorter;
                at = 0;
            } else {
                at += 1;
            }
        }
        self
    }
}

/// All that a plugin hears whose host does not tell where it is.
pub struct Tape {
    pub planes: Vec<Vec<f32>>,
    unheard: Vec<Vec<f32>>,
}

struct Player<'a> {
    script: &'a Script,
    songs: &'a [Audio; VERSIONS],
    direct: Direct,
    model: Model,
    /// Where the transport is.
    frame: i64,
    is_moving: bool,
    live: Option<Tape>,
}

impl Player<'_> {
    fn act(&mut self, index: usize, act: Act) {
        match act {
            Act::Go { version, frame, len_frames } => {
                self.go(index, frame);
                self.steps(index, version, &[Step::Play { len_frames }]);
            }
            Act::On { version, len_frames } => {
                self.steps(index, version, &[Step::Play { len_frames }]);
            }
            Act::Loop { version, start_frame, end_frame, len_frames } => {
                self.go(index, start_frame);
                self.steps(index, version, &[Step::Loop { start_frame, end_frame, len_frames }]);
            }
            Act::Stand { len_frames } => self.steps(index, 0, &[Step::Stand { len_frames }]),
            Act::Rest => self.steps(index, 0, &[Step::Rest]),
            Act::Pause { len_frames } => {
                self.direct.status().set_running(false);
                self.unheard(index, len_frames);
                self.direct.status().set_running(true);
            }
            Act::Bypass { len_frames } => {
                self.direct.status().set_bypassed(true);
                self.unheard(index, len_frames);
                self.direct.status().set_bypassed(false);
            }
            Act::Forget => {
                self.record().reset();
                self.model.forget_from(i32::MIN);
            }
            Act::ForgetAndUndo => self.record().undo_reset(self.record().reset()),
            Act::Trim { end_hop } => {
                self.record().trim(end_hop);
                self.model.forget_from(end_hop);
            }
            Act::TrimAndUndo { end_hop } => {
                self.record().undo_trim(self.record().trim(end_hop));
            }
        }
    }

    fn record(&self) -> &RecordReader {
        if self.live.is_some() { &self.direct.sources().live } else { &self.direct.sources().song }
    }

    fn go(&mut self, index: usize, frame: i64) {
        let by = (frame - self.frame).abs();
        if self.is_moving && by > 0 && by < self.script.min_jump_frames() {
            self.steps(index, 0, &[Step::Stand { len_frames: 64 }]);
        }
        self.frame = frame;
    }

    /// Plays on unmeasured.
    fn unheard(&mut self, index: usize, len_frames: usize) {
        self.model.end_run(Border::Unknown);
        self.model.is_deaf = true;
        self.steps(index, 0, &[Step::Play { len_frames }]);
        self.model.end_run(Border::Unknown);
        self.model.is_deaf = false;
    }

    fn steps(&mut self, index: usize, version: usize, steps: &[Step]) {
        let Script { rate_hz, telling, blocks, .. } = self.script;
        let mut all = vec![Step::Locate { frame: self.frame }];
        all.extend(steps);
        let blocks = match blocks {
            Blocks::Random { seed, max_frames } => {
                Blocks::Random { seed: seed ^ index as u64, max_frames: *max_frames }
            }
            other => other.clone(),
        };
        for event in playback(*rate_hz, &all, telling.clone(), blocks.clone()) {
            match event {
                Event::Block(block) if self.live.is_some() => {
                    let Some(tape) = &mut self.live else { continue };
                    block.fill(&self.songs[version], &mut tape.unheard);
                    if self.model.is_deaf {
                        self.model.starts_silent &= !tape.planes[0].is_empty();
                        continue;
                    }
                    // The song of a live record is what was heard; its clock stands meanwhile.
                    let start_frame = tape.planes[0].len() as i64;
                    for (plane, block) in tape.planes.iter_mut().zip(&tape.unheard) {
                        plane.extend(block);
                    }
                    self.model.hear(0, Some(start_frame), block.len_frames);
                    if let Some(frame) = block.song_frame {
                        self.frame = frame + block.len_frames as i64;
                    }
                }
                Event::Block(block) => {
                    self.is_moving = block.song_frame.is_some();
                    if let Some(frame) = block.song_frame {
                        self.frame = frame + block.len_frames as i64;
                    }
                    self.model.hear(version, block.song_frame, block.len_frames);
                }
                Event::Reset | Event::Rest => {
                    self.is_moving = false;
                    self.model.end_run(Border::Silence);
                }
            }
        }
        self.direct.run(&self.songs[version], &all, telling, &blocks);
    }
}

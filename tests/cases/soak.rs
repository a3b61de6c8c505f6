//! Everything at once for a long time: random transport, block sizes and automation on the audio
//! thread, while the main thread saves and loads states and opens and closes the editor, on the
//! built bundle. It neither crashes nor grows, and numbers are those of a clean run wherever the
//! input was the same.
//!
//! An hour of audio time by default; `PLIMSOLL_SOAK_H=24 cargo test -p plimsoll-tests --test soak`.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::print_stdout, reason = "a test")]
#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, reason = "a test")]
#![allow(clippy::cast_sign_loss, clippy::cast_precision_loss, reason = "a test")]
#![allow(clippy::expect_used, reason = "a test")]

use clack_extensions::gui::{GuiApiType, GuiConfiguration, PluginGui, Window};
use clack_extensions::params::ParamInfoFlags;
use plimsoll::audio::{Sources, Transport};
use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::child;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::display::ParentWindow;
use plimsoll_tests::host::{Buffers, Host, Library, Measurement, Run, built_bundle};
use plimsoll_tests::noise::{Rng, song_like};
use plimsoll_tests::transport::{Blocks, Rounding, Step, Telling, Tells};

const RATE_HZ: usize = 48_000;
const MAX_BLOCK_FRAMES: usize = 2_048;

/// From the end of the first quarter to the end, instances and editors have come and gone many times.
/// Half a record: one that is left behind is seen.
const MAX_GROWTH_BYTES: u64 = 16 << 20;

fn hours() -> f64 {
    let text = std::env::var("PLIMSOLL_SOAK_H");
    text.map_or(1.0, |text| text.parse().expect("PLIMSOLL_SOAK_H: hours of audio time"))
}

/// What the audio thread does in one go, with bypass on or off.
struct Piece {
    bypassed: bool,
    steps: Vec<Step>,
    telling: Telling,
    blocks: Blocks,
    buffers: Buffers,
}

fn piece(rng: &mut Rng) -> Piece {
    let mut steps = Vec::new();
    for _ in 0..rng.between(1, 12) {
        let len_frames = rng.between(1, 10 * RATE_HZ);
        match rng.between(0, 9) {
            0 => steps.push(Step::Locate { frame: -(rng.between(0, 20 * RATE_HZ) as i64) }),
            1..=3 => steps.push(Step::Locate { frame: rng.between(0, 500 * RATE_HZ) as i64 }),
            4 => {
                let start_frame = rng.between(0, 50 * RATE_HZ) as i64;
                let end_frame = start_frame + rng.between(300, 2 * RATE_HZ) as i64;
                steps.push(Step::Loop { start_frame, end_frame, len_frames });
            }
            5 => steps.push(Step::Stand { len_frames: len_frames / 8 + 1 }),
            6 => steps.push(Step::Rest),
            7 => steps.push(Step::Reset),
            _ => {}
        }
        steps.push(Step::Play { len_frames });
    }
    let tells = [Tells::Everything, Tells::Seconds, Tells::Beats, Tells::Nothing];
    let roundings = [Rounding::Exact, Rounding::Millisecond, Rounding::Block(MAX_BLOCK_FRAMES)];
    Piece {
        bypassed: rng.between(0, 7) == 0,
        steps,
        telling: Telling::new(tells[rng.between(0, 3)]).rounded(roundings[rng.between(0, 2)]),
        blocks: match rng.between(0, 2) {
            0 => Blocks::Random { seed: rng.next_u64(), max_frames: MAX_BLOCK_FRAMES },
            1 => Blocks::Fixed(1 << rng.between(5, 11)),
            _ => Blocks::InTurn(vec![512, 3, MAX_BLOCK_FRAMES, 441]),
        },
        buffers: if rng.between(0, 1) == 0 { Buffers::Separate } else { Buffers::InPlace },
    }
}

/// Plays `pieces` on a thread of its own while `meanwhile` is done again and again on this one.
/// Gives the frames played.
fn play(
    host: &mut Host,
    song: &Audio,
    pieces: &[Piece],
    mut meanwhile: impl FnMut(&mut Host),
) -> u64 {
    let params = host.params().unwrap();
    let bypass = params.iter().find(|param| param.flags.contains(ParamInfoFlags::IS_BYPASS));
    let bypass = bypass.unwrap().id;
    let mut audio = host.take_audio();
    let (audio, runs) = std::thread::scope(|scope| {
        let worker = scope.spawn(|| {
            let play = |piece: &Piece| {
                audio.set_param(bypass, if piece.bypassed { 1.0 } else { 0.0 });
                let Piece { steps, telling, blocks, buffers, .. } = piece;
                audio.run(song, steps, telling, blocks, *buffers).unwrap()
            };
            let runs: Vec<Run> = pieces.iter().map(play).collect();
            (audio, runs)
        });
        while !worker.is_finished() {
            meanwhile(host);
            host.idle();
        }
        worker.join().unwrap()
    });
    host.put_audio(audio);
    for run in &runs {
        assert_eq!((run.changed_samples, run.out_events, run.not_kept), (0, 0, 0));
    }
    runs.iter().map(|run| run.frames).sum()
}

/// What the same input measures without a host; `None` if nothing was measured.
fn clean(song: &Audio, pieces: &[Piece]) -> Option<Measurement> {
    let mut direct = Direct::new(RATE_HZ as u32, song.channels.len(), MAX_BLOCK_FRAMES);
    for piece in pieces {
        direct.status().set_bypassed(piece.bypassed);
        direct.run(song, &piece.steps, &piece.telling, &piece.blocks);
    }
    direct.stop();
    let Sources { song, live, .. } = direct.sources();
    // As the plugin saves it: the live record counts where the host tells no position.
    let (first, second) = match direct.status().transport() {
        Transport::Unknown => (live, song),
        Transport::Stopped | Transport::Playing => (song, live),
    };
    let measured = |record| plimsoll::state::Measurement::of(record, RATE_HZ as u32);
    let measured = measured(first).or_else(|| measured(second));
    measured.map(|measured| Measurement::from_json(measured.save()).unwrap())
}

/// What a host does with the editor: opens it if it is closed, closes it if it is open.
fn toggle_editor(host: &mut Host, parent: &ParentWindow, is_open: &mut bool) {
    let plugin = host.instance().plugin_handle();
    let gui: PluginGui = plugin.get_extension().unwrap();
    if *is_open {
        gui.destroy(&plugin);
    } else {
        let how = GuiConfiguration { api_type: GuiApiType::X11, is_floating: false };
        gui.create(&plugin, how).unwrap();
        // SAFETY: the parent window lives as long as the process.
        #[allow(unsafe_code)]
        unsafe {
            gui.set_parent(&plugin, Window::from_x11_handle(u64::from(parent.id))).unwrap();
        }
        let _ = gui.show(&plugin);
    }
    *is_open = !*is_open;
}

/// Memory that is no file's, in bytes.
fn anonymous_bytes() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find(|line| line.starts_with("RssAnon")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse::<u64>().unwrap() * 1024
}

#[test]
fn an_hour_of_everything_at_once() {
    child::on_a_screen_if_any("an_hour_of_everything_at_once", || {
        let library = Library::load(&built_bundle()).unwrap();
        let song = song_like(171, RATE_HZ as u32, 60.0);
        let parent = ParentWindow::open(1920, 1200).ok();
        if parent.is_none() {
            println!("without an editor: there is no X server in memory; install xvfb");
        }
        let total_frames = (hours() * 3_600.0 * RATE_HZ as f64) as u64;
        let mut rng = Rng::new(172);
        let new_host = || {
            let mut host = Host::new(&library).unwrap();
            host.activate(RATE_HZ as u32, MAX_BLOCK_FRAMES).unwrap();
            host
        };
        // One lives through all of it and gets states thrown at it; the others are new each time
        // and measure what a clean run measures.
        let mut old = new_host();
        let mut states = vec![old.save_state().unwrap()];
        let (mut frames, mut round, mut compared) = (0, 0, 0);
        let mut memory_after_a_quarter = None;
        let mut opened = 0;
        while frames < total_frames {
            let pieces: Vec<Piece> = (0..rng.between(2, 6)).map(|_| piece(&mut rng)).collect();
            let mut is_open = false;
            let mut turn = |host: &mut Host, load: Option<&Vec<u8>>| {
                host.save_state().unwrap();
                host.params().unwrap();
                if let Some(state) = load {
                    host.load_state(state).unwrap();
                }
                if let Some(parent) = &parent {
                    toggle_editor(host, parent, &mut is_open);
                    opened += usize::from(is_open);
                    std::thread::sleep(std::time::Duration::from_millis(20));
                }
            };
            if round % 2 == 0 {
                let mut loads = rng.between(0, 99);
                frames += play(&mut old, &song, &pieces, |host| {
                    loads += 1;
                    turn(host, Some(&states[loads % states.len()]));
                });
                if let (true, Some(parent)) = (is_open, &parent) {
                    toggle_editor(&mut old, parent, &mut is_open);
                }
                states.push(old.save_state().unwrap());
                if states.len() > 4 {
                    states.remove(1);
                }
                assert_eq!(old.violations(), [""; 0]);
            } else {
                let mut host = new_host();
                frames += play(&mut host, &song, &pieces, |host| turn(host, None));
                host.stop_processing().unwrap();
                if let Some(expected) = clean(&song, &pieces) {
                    assert_eq!(host.measurement().unwrap(), expected, "round {round}");
                    compared += 1;
                }
                assert_eq!(host.violations(), [""; 0]);
                // Goes with its editor open, if it is.
                drop(host);
                std::thread::sleep(std::time::Duration::from_millis(100));
            }
            println!("round {round}: {} MB", anonymous_bytes() >> 20);
            round += 1;
            if frames > total_frames / 4 && memory_after_a_quarter.is_none() {
                memory_after_a_quarter = Some(anonymous_bytes());
            }
        }
        let grown = anonymous_bytes().saturating_sub(memory_after_a_quarter.unwrap());
        println!(
            "{:.2} h in {round} rounds, {compared} compared with clean runs, editor opened {opened} \
             times, memory grew by {grown} bytes",
            frames as f64 / RATE_HZ as f64 / 3_600.0
        );
        assert!(compared > 0);
        assert!(grown < MAX_GROWTH_BYTES, "memory grew by {grown} bytes");
    });
}

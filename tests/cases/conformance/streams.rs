//! State through the streams of a host: in any order, in small pieces, and broken off.

use super::{RATE_HZ, case, library, play};
use plimsoll_tests::host::Host;
use plimsoll_tests::noise::{Rng, song_like};
use plimsoll_tests::transport::play_once;
use serde_json::Value;
use std::io::{self, Read, Write};

/// Gives and takes at most so many bytes at a time, and fails after so many.
struct Stream<'a> {
    bytes: &'a [u8],
    written: Vec<u8>,
    at_once: usize,
    left: usize,
}

impl<'a> Stream<'a> {
    fn new(bytes: &'a [u8], at_once: usize, left: usize) -> Self {
        Self { bytes, written: Vec::new(), at_once, left }
    }

    fn take(&mut self, wanted: usize) -> io::Result<usize> {
        if self.left == 0 {
            return Err(io::Error::other("the host's disk is gone"));
        }
        let len = wanted.min(self.at_once).min(self.left);
        self.left -= len;
        Ok(len)
    }
}

impl Read for Stream<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let len = self.take(buffer.len().min(self.bytes.len()))?;
        let (given, left) = self.bytes.split_at(len);
        buffer[..len].copy_from_slice(given);
        self.bytes = left;
        Ok(len)
    }
}

impl Write for Stream<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let len = self.take(bytes.len())?;
        self.written.extend_from_slice(&bytes[..len]);
        Ok(len)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// A state with `seconds` measured.
fn measured(seed: u64, seconds: f64) -> Vec<u8> {
    let mut host = Host::new(&library()).unwrap();
    host.activate(RATE_HZ, 512).unwrap();
    let song = song_like(seed, RATE_HZ, seconds);
    play(&mut host, &song, &play_once(&song));
    host.save_state().unwrap()
}

/// What a state says, whatever the order of its keys.
fn content(state: &[u8]) -> Value {
    let mut json: Value = serde_json::from_slice(&state[8..]).unwrap();
    for (_, field) in json["fields"].as_object_mut().unwrap() {
        *field = serde_json::from_str(field.as_str().unwrap()).unwrap();
    }
    json
}

#[test]
fn a_stream_may_hand_out_one_byte_at_a_time() {
    case("streams::a_stream_may_hand_out_one_byte_at_a_time", |host| {
        let state = measured(121, 5.0);
        for at_once in [1, 7] {
            host.load_state_from(&mut Stream::new(&state, at_once, usize::MAX)).unwrap();
            assert_eq!(content(&host.save_state().unwrap()), content(&state));
            let mut stream = Stream::new(&[], at_once, usize::MAX);
            host.save_state_into(&mut stream).unwrap();
            assert_eq!(content(&stream.written), content(&state));
        }
    });
}

#[test]
fn a_stream_that_fails_in_the_middle_changes_nothing_and_is_reported() {
    case("streams::a_stream_that_fails_in_the_middle_changes_nothing_and_is_reported", |host| {
        let [kept, state] = [measured(122, 3.0), measured(123, 5.0)];
        host.load_state(&kept).unwrap();
        for step in 0..100 {
            let left = (state.len() - 1) * step / 99;
            let broken = host.load_state_from(&mut Stream::new(&state, 4_096, left));
            assert!(broken.is_err(), "{left} bytes of {} were read", state.len());
            assert_eq!(content(&host.save_state().unwrap()), content(&kept), "{left} bytes");
            let left = (kept.len() - 1) * step / 99;
            let broken = host.save_state_into(&mut Stream::new(&[], 4_096, left));
            assert!(broken.is_err(), "{left} bytes of {} were written", kept.len());
        }
        host.load_state(&state).unwrap();
        assert_eq!(content(&host.save_state().unwrap()), content(&state));
    });
}

#[test]
fn state_is_saved_and_loaded_in_any_order_in_fresh_instances_too() {
    case("streams::state_is_saved_and_loaded_in_any_order_in_fresh_instances_too", |host| {
        let states = [measured(124, 2.0), measured(125, 4.0), host.save_state().unwrap()];
        let mut expected = content(&states[2]);
        let mut fresh = Host::new(&library()).unwrap();
        let mut rng = Rng::new(126);
        let mut is_active = false;
        for round in 0..300 {
            match rng.between(0, 5) {
                0 if !is_active => {
                    let rate_hz = [44_100, 48_000, 96_000][rng.between(0, 2)];
                    fresh.activate(rate_hz, 1 << rng.between(0, 12)).unwrap();
                    is_active = true;
                }
                0 => {
                    fresh.deactivate();
                    is_active = false;
                }
                1 => {
                    // The host opens the project anew.
                    let state = fresh.save_state().unwrap();
                    fresh = Host::new(&library()).unwrap();
                    fresh.load_state(&state).unwrap();
                    is_active = false;
                }
                2 if is_active => fresh.reset().unwrap(),
                3 | 4 => {
                    let state = &states[rng.between(0, 1)];
                    fresh.load_state(state).unwrap();
                    expected = content(state);
                }
                _ => {}
            }
            assert_eq!(content(&fresh.save_state().unwrap()), expected, "round {round}");
        }
        assert_eq!(fresh.violations(), [""; 0]);
    });
}

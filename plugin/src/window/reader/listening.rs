//! The gains that a user can ask to hear the song at.

use super::ModelReader;
use crate::editor;
use crate::listening::MatchTo;
use crate::target::{ENOUGH_COVERAGE_SHARE, Target, playback_gain};
use crate::units::{Db, Dbtp};

impl ModelReader {
    /// Starts matched listening at the playback gain of the chosen target, or says why not.
    pub fn listen_matched(&mut self) {
        let Some(distance) = &self.model.distance else { return };
        let Some(gain) = distance.playback_gain else { return };
        if let Some(share) = distance.provisional_share.filter(|_| gain.0 > 0.0) {
            let why = editor::text::measure_before_turning_up(gain, share);
            self.set_refusal(Some(why));
            return;
        }
        self.set_refusal(None);
        let target = self.model.targets.get(self.model.chosen_target);
        self.shared.listening.start(MatchTo::Playback, gain, target.and_then(Target::ceiling));
    }

    /// Starts matched listening at the gain that brings the song to the loudness of the reference
    /// input, as far as the ceiling has room, or says why not.
    pub fn listen_like_reference(&mut self) {
        self.shared.refresh_input();
        let theirs = self.shared.references.input();
        let theirs = theirs.and_then(|reference| reference.whole.figures.integrated_lufs);
        let figures = &self.model.figures;
        let ours = figures.integrated.map(|ours| ours.0).filter(|ours| ours.is_finite());
        let Some((theirs, ours)) = theirs.zip(ours) else {
            self.set_refusal(Some(editor::text::NOTHING_TO_MATCH.to_owned()));
            return;
        };
        let target = self.model.targets.get(self.model.chosen_target);
        let ceiling = target.and_then(Target::ceiling).unwrap_or(Dbtp(0.0));
        let gain =
            playback_gain(Db(theirs - ours), figures.max_true_peak.map(|peak| ceiling - peak));
        let share = figures.coverage.share();
        if gain.0 > 0.0 && share < ENOUGH_COVERAGE_SHARE {
            let why = editor::text::measure_before_turning_up(gain, share);
            self.set_refusal(Some(why));
            return;
        }
        self.set_refusal(None);
        self.shared.listening.start(MatchTo::Reference, gain, Some(ceiling));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::Sources;
    use crate::editor::model::Asked;
    use crate::meters::layout::Layout;
    use crate::record::{Hop, recent_hops, record};
    use crate::shared::Shared;
    use std::sync::Arc;

    /// A record whose hops, each `step`-th of ten seconds, have this energy and peak.
    fn sources(energy: f32, true_peak: f32, step: usize) -> Sources {
        let (mut writer, song) = record(Layout::Stereo, false);
        let playthrough = writer.begin_playthrough();
        let mut hop = Hop { energy, frames: 480, full: true, playthrough, ..Hop::default() };
        (hop.true_peaks[0], hop.sample_peaks[0]) = (true_peak, true_peak);
        // A gap between two stretches that are long enough to have a loudness.
        for index in (0..1_000).filter(|index| step == 1 || !(300..700).contains(index)) {
            writer.write(index, &hop);
        }
        Sources { live: record(Layout::Stereo, false).1, recent: recent_hops().1, song }
    }

    /// A song with this peak, and a reference that is louder by `by_db`.
    fn beside(by_db: f64, true_peak: f32, step: usize) -> (Arc<Shared>, ModelReader) {
        let shared = Arc::new(Shared::default());
        shared.set_rate_hz(48_000);
        shared.set_sources(sources(0.01, true_peak, step));
        #[allow(clippy::cast_possible_truncation, reason = "an energy")]
        let theirs = (0.01 * 10.0_f64.powf(by_db / 10.0)) as f32;
        shared.input.set_sources(sources(theirs, 0.9, 1));
        let mut reader = ModelReader::new(Arc::clone(&shared));
        reader.refresh(&Asked::default());
        (shared, reader)
    }

    #[test]
    fn the_song_is_brought_to_the_loudness_of_the_reference_input() {
        for by_db in [-9.0, 2.0] {
            let (shared, mut reader) = beside(by_db, 0.1, 1);
            assert_eq!(shared.listening.matched(), None, "off by default");
            reader.listen_like_reference();
            let matched = shared.listening.matched().unwrap();
            assert_eq!(matched.to, MatchTo::Reference);
            assert!((matched.gain.0 - by_db).abs() < 1e-4, "{} for {by_db}", matched.gain.0);
            assert_eq!(reader.model.song.refusal, None);
        }
    }

    #[test]
    fn turning_up_goes_no_farther_than_the_ceiling_has_room() {
        let (shared, mut reader) = beside(12.0, 0.5, 1);
        let target = shared.settings().chosen_target().unwrap().clone();
        let ceiling = target.ceiling().unwrap();
        reader.listen_like_reference();
        let gain = shared.listening.matched().unwrap().gain.0;
        let room = ceiling.0 - 20.0 * 0.5_f64.log10();
        assert!(room < 12.0 && (gain - room).abs() < 1e-4, "{gain} of {room}");
    }

    #[test]
    fn turning_up_needs_the_peaks_of_the_whole_song_and_turning_down_does_not() {
        let (shared, mut reader) = beside(2.0, 0.1, 2);
        reader.listen_like_reference();
        assert!(!shared.listening.is_on());
        let why = reader.model.song.refusal.clone().unwrap();
        assert!(why.contains("2.0 dB") && why.contains("60 %"), "{why}");
        let (shared, mut reader) = beside(-2.0, 0.1, 2);
        reader.listen_like_reference();
        assert!(shared.listening.is_on());
    }

    #[test]
    fn without_a_reference_on_the_input_there_is_nothing_to_match() {
        let shared = Arc::new(Shared::default());
        shared.set_rate_hz(48_000);
        shared.set_sources(sources(0.01, 0.1, 1));
        let mut reader = ModelReader::new(Arc::clone(&shared));
        reader.refresh(&Asked::default());
        reader.listen_like_reference();
        assert!(!shared.listening.is_on());
        assert_eq!(reader.model.song.refusal.as_deref(), Some(editor::text::NOTHING_TO_MATCH));
    }

    #[test]
    fn a_reload_takes_it_off_and_so_does_another_reference() {
        let (shared, mut reader) = beside(-3.0, 0.1, 1);
        reader.listen_like_reference();
        shared.load_settings(&shared.saved_settings());
        assert!(!shared.listening.is_on());
        reader.listen_like_reference();
        assert!(shared.listening.is_on());
        shared.listening.stop_reference();
        assert!(!shared.listening.is_on());
        // The gain of playback has nothing to do with it.
        shared.listening.start(MatchTo::Playback, Db(-1.0), None);
        shared.listening.stop_reference();
        assert!(shared.listening.is_on());
    }
}

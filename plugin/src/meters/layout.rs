//! Channel layouts, their order and their loudness weights.
//!
//! ITU-R BS.1770-5, Annex 1, Table 3: G = 1.0 for left, right and centre, 1.41 (not √2) for the
//! surround channels; the LFE channel is left out. Annex 3 for more loudspeakers: G = 1.41 where
//! the elevation is within ±30° and the azimuth between 60° and 120° to either side, else 1.0.

use serde::{Deserialize, Serialize};

/// Weight of a channel in front, behind or above (BS.1770-5, Annex 1, Table 3 and Annex 3).
const PLAIN: f64 = 1.0;
/// Weight of a channel at the listener's side (BS.1770-5, Annex 1, Table 3 and Annex 3).
const SIDE: f64 = 1.41;
/// The LFE channel is excluded from loudness (BS.1770-5, Annex 1, Table 3).
const LFE: f64 = 0.0;

/// Which loudspeaker each channel of the signal feeds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Layout {
    /// One channel, weight 1.0. Reads 3.01 LU lower than the same signal in both of two channels.
    #[serde(rename = "mono")]
    Mono,
    /// L R.
    #[serde(rename = "stereo")]
    Stereo,
    /// L R C LFE Ls Rs, the surrounds at ±110°.
    #[serde(rename = "5.1")]
    Surround51,
    /// L R C LFE Ls Rs Lb Rb: sides at ±90°, backs at ±135° (layout 0+7+0 of BS.1770-5, Annex 3).
    #[serde(rename = "7.1")]
    Surround71,
}

impl Layout {
    /// Every layout, fewest channels first.
    pub const ALL: [Self; 4] = [Self::Mono, Self::Stereo, Self::Surround51, Self::Surround71];

    /// Number of channels, the LFE included.
    #[must_use]
    pub const fn channel_count(self) -> usize {
        self.weights().len()
    }

    /// The layout of `channel_count` channels; `None` where there is none.
    #[must_use]
    pub const fn from_channel_count(channel_count: usize) -> Option<Self> {
        match channel_count {
            1 => Some(Self::Mono),
            2 => Some(Self::Stereo),
            6 => Some(Self::Surround51),
            8 => Some(Self::Surround71),
            _ => None,
        }
    }

    /// Loudness weight G of every channel, in channel order; 0.0 for the LFE.
    #[must_use]
    pub const fn weights(self) -> &'static [f64] {
        match self {
            Self::Mono => &[PLAIN],
            Self::Stereo => &[PLAIN, PLAIN],
            Self::Surround51 => &[PLAIN, PLAIN, PLAIN, LFE, SIDE, SIDE],
            Self::Surround71 => &[PLAIN, PLAIN, PLAIN, LFE, SIDE, SIDE, PLAIN, PLAIN],
        }
    }

    /// Short name of every channel, in channel order.
    #[must_use]
    pub const fn channel_names(self) -> &'static [&'static str] {
        match self {
            Self::Mono => &["M"],
            Self::Stereo => &["L", "R"],
            Self::Surround51 => &["L", "R", "C", "LFE", "Ls", "Rs"],
            Self::Surround71 => &["L", "R", "C", "LFE", "Ls", "Rs", "Lb", "Rb"],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_layout_is_found_by_its_channel_count() {
        for layout in Layout::ALL {
            assert_eq!(Layout::from_channel_count(layout.channel_count()), Some(layout));
            assert_eq!(layout.channel_names().len(), layout.channel_count());
        }
        for count in [0, 3, 4, 5, 7, 9] {
            assert_eq!(Layout::from_channel_count(count), None);
        }
    }

    #[test]
    fn sides_weigh_more_backs_do_not_and_the_lfe_is_left_out() {
        // BS.1770-5, Annex 1, Table 3 (5.1) and Annex 3 (M±090 and M±135 of 7.1).
        for (layout, expected) in [
            (Layout::Surround51, "L1 R1 C1 LFE0 Ls1.41 Rs1.41"),
            (Layout::Surround71, "L1 R1 C1 LFE0 Ls1.41 Rs1.41 Lb1 Rb1"),
        ] {
            let text: Vec<String> = layout
                .channel_names()
                .iter()
                .zip(layout.weights())
                .map(|(name, weight)| format!("{name}{weight}"))
                .collect();
            assert_eq!(text.join(" "), expected);
        }
    }
}

//! Which code, at which bit rate.

use std::fmt;
use std::str::FromStr;

/// A lossy code that can be written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// Ogg Vorbis.
    Vorbis,
    /// Ogg Opus.
    Opus,
    /// MP3, at a constant bit rate.
    #[cfg(feature = "mp3")]
    Mp3,
}

/// Bit rates of MP3 of which a mono file can have the half, kbit/s (ISO/IEC 11172-3, Layer III;
/// from memory).
#[cfg(feature = "mp3")]
const MP3_KBPS: [u32; 9] = [64, 80, 96, 128, 160, 192, 224, 256, 320];

/// Lowest and highest bit rate of a stereo file, kbit/s. The project's own choice, no source.
const MIN_KBPS: u32 = 64;
const MAX_KBPS: u32 = 320;

impl Format {
    /// All that this build can write.
    pub const ALL: &[Self] = &[
        Self::Vorbis,
        Self::Opus,
        #[cfg(feature = "mp3")]
        Self::Mp3,
    ];

    /// As people call it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Vorbis => "Ogg Vorbis",
            Self::Opus => "Opus",
            #[cfg(feature = "mp3")]
            Self::Mp3 => "MP3",
        }
    }

    /// As it is written in an option.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Vorbis => "vorbis",
            Self::Opus => "opus",
            #[cfg(feature = "mp3")]
            Self::Mp3 => "mp3",
        }
    }

    /// The bit rate where none is asked for, kbit/s for a stereo file: a middling one of those
    /// that listeners get. The project's own choice, no source.
    #[must_use]
    pub const fn default_kbps(self) -> u32 {
        match self {
            Self::Vorbis => 160,
            Self::Opus => 128,
            #[cfg(feature = "mp3")]
            Self::Mp3 => 256,
        }
    }

    /// The rate at which sound of `rate_hz` is encoded, Hz: 44.1 kHz for it and its multiples and
    /// parts, 48 kHz for all others; Opus knows only 48 kHz.
    #[must_use]
    pub const fn rate_hz(self, rate_hz: u32) -> u32 {
        match self {
            Self::Opus => plimsoll_opus::RATE_HZ,
            _ if rate_hz.is_multiple_of(11_025) => 44_100,
            _ => 48_000,
        }
    }
}

/// A code and its bit rate: `opus` or `opus:96` in an option.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Encoding {
    /// The code.
    pub format: Format,
    /// Bit rate of a stereo file, kbit/s; mono has the half.
    pub kbps: u32,
}

impl Encoding {
    /// One of each code, at its own bit rate.
    #[must_use]
    pub fn all() -> Vec<Self> {
        let all = Format::ALL.iter();
        all.map(|&format| Self { format, kbps: format.default_kbps() }).collect()
    }

    /// Bits a second of a file of so many channels.
    pub(crate) const fn bits_per_second(self, channels: usize) -> u32 {
        let bits_per_second = self.kbps * 1_000;
        if channels == 1 { bits_per_second / 2 } else { bits_per_second }
    }
}

impl fmt::Display for Encoding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {} kbit/s", self.format.name(), self.kbps)
    }
}

/// Why a wish is no encoding: the value and the rule.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum EncodingError {
    /// A code that is not written here.
    Format {
        /// What was asked for.
        found: String,
    },
    /// A bit rate that the code does not have here.
    Kbps {
        /// What was asked for.
        found: String,
        /// Those that it has.
        rule: String,
    },
}

impl fmt::Display for EncodingError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Format { found } if found == "mp3" => write!(
                f,
                "mp3: this build has no MP3 encoder; build it with the feature \"mp3\" (LAME, \
                 LGPL, needs make)"
            ),
            Self::Format { found } if found == "aac" => {
                write!(f, "aac: {}", super::WITHOUT_ENCODER)
            }
            Self::Format { found } => {
                let keys: Vec<&str> = Format::ALL.iter().map(|format| format.key()).collect();
                write!(f, "\"{found}\" is no code that is encoded: {}", keys.join(", "))
            }
            Self::Kbps { found, rule } => write!(f, "bit rate \"{found}\": must be {rule}"),
        }
    }
}

impl std::error::Error for EncodingError {}

impl FromStr for Encoding {
    type Err = EncodingError;

    fn from_str(text: &str) -> Result<Self, EncodingError> {
        let (name, kbps) = match text.split_once(':') {
            Some((name, kbps)) => (name, Some(kbps)),
            None => (text, None),
        };
        let name = name.trim().to_ascii_lowercase();
        let Some(&format) = Format::ALL.iter().find(|format| format.key() == name) else {
            return Err(EncodingError::Format { found: name });
        };
        let Some(found) = kbps else {
            return Ok(Self { format, kbps: format.default_kbps() });
        };
        let kbps = found.trim().parse().unwrap_or(0);
        let rule = match format {
            #[cfg(feature = "mp3")]
            Format::Mp3 if !MP3_KBPS.contains(&kbps) => {
                let steps: Vec<String> = MP3_KBPS.iter().map(u32::to_string).collect();
                Some(format!("one of {} kbit/s", steps.join(", ")))
            }
            _ if (MIN_KBPS..=MAX_KBPS).contains(&kbps) => None,
            _ => Some(format!("{MIN_KBPS} to {MAX_KBPS} kbit/s")),
        };
        if let Some(rule) = rule {
            return Err(EncodingError::Kbps { found: found.to_owned(), rule });
        }
        Ok(Self { format, kbps })
    }
}

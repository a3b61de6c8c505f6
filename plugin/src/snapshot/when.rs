//! The moment of a snapshot, in UTC.

use std::fmt;
use std::time::{SystemTime, UNIX_EPOCH};
use time::UtcDateTime;

/// Last second that is told: the end of the year 9999 (ISO 8601 writes four digits).
const LAST_UNIX_S: u64 = 253_402_300_799;

/// A date and time in UTC, to the second.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct UtcTime(UtcDateTime);

impl UtcTime {
    /// The time that is `unix_s` seconds after 1970 began; times after the year 9999 read as its
    /// last second.
    #[must_use]
    pub fn from_unix_s(unix_s: u64) -> Self {
        let unix_s = i64::try_from(unix_s.min(LAST_UNIX_S)).unwrap_or(0);
        Self(UtcDateTime::from_unix_timestamp(unix_s).unwrap_or(UtcDateTime::UNIX_EPOCH))
    }

    /// The time of a clock; times before 1970 read as its start.
    #[must_use]
    pub fn from_system(time: SystemTime) -> Self {
        Self::from_unix_s(time.duration_since(UNIX_EPOCH).map_or(0, |since| since.as_secs()))
    }

    fn date(self) -> String {
        let (year, month, day) = self.0.date().to_calendar_date();
        format!("{year:04}-{:02}-{day:02}", u8::from(month))
    }

    /// For people: "2026-11-25 14:01 UTC".
    #[must_use]
    pub fn in_words(self) -> String {
        format!("{} {:02}:{:02} UTC", self.date(), self.0.hour(), self.0.minute())
    }

    /// For names of files, where a colon is not allowed everywhere: "2026-11-25-140107".
    #[must_use]
    pub fn for_file_name(self) -> String {
        let (hour, minute, second) = self.0.as_hms();
        format!("{}-{hour:02}{minute:02}{second:02}", self.date())
    }
}

impl fmt::Display for UtcTime {
    /// ISO 8601: "2026-11-25T14:01:07Z".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (hour, minute, second) = self.0.as_hms();
        write!(f, "{}T{hour:02}:{minute:02}:{second:02}Z", self.date())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    #[test]
    fn times_are_written_as_iso_8601_says() {
        // RFC 3339, §5.8 gives 1985-04-12T23:20:50Z; 5 580 days and 84 050 s after 1970 began.
        let time = UtcTime::from_unix_s(5_580 * 86_400 + 84_050);
        assert_eq!(time.to_string(), "1985-04-12T23:20:50Z");
        assert_eq!(time.in_words(), "1985-04-12 23:20 UTC");
        assert_eq!(time.for_file_name(), "1985-04-12-232050");
    }

    #[test]
    fn times_out_of_range_are_held_at_its_ends() {
        assert_eq!(UtcTime::from_unix_s(u64::MAX).to_string(), "9999-12-31T23:59:59Z");
        let before = UNIX_EPOCH - Duration::from_secs(5);
        assert_eq!(UtcTime::from_system(before).to_string(), "1970-01-01T00:00:00Z");
    }
}

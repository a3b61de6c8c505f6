//! The built-in targets. They name the document and no service; figures that no document states
//! say so.

use super::{COMMON_PRACTICE, IntegratedGoal, PeakWindow, Target};
use crate::units::{Dbfs, Dbtp, Lu, Lufs};

fn loudness(
    name: &str,
    source: &str,
    loudness_lufs: f64,
    (below_lu, above_lu): (Option<f64>, f64),
    ceiling_dbtp: f64,
) -> Target {
    Target {
        name: name.to_owned(),
        source: source.to_owned(),
        integrated: Some(IntegratedGoal {
            loudness: Lufs(loudness_lufs),
            below: below_lu.map(Lu),
            above: Lu(above_lu),
        }),
        true_peak_ceiling: Some(Dbtp(ceiling_dbtp)),
        max_short_term: None,
        max_momentary: None,
        max_loudness_range: None,
        peak_window: None,
    }
}

/// The built-in targets, the first being the default.
///
/// Figures marked "quotation" were read as quotations of the document in another one; where a
/// tolerance is common practice the source says so.
#[must_use]
pub fn built_in_targets() -> Vec<Target> {
    let both = |lu| (Some(lu), lu);
    let mut targets = vec![
        loudness(
            "Music streaming, −14",
            "common practice, no source (tolerance likewise)",
            -14.0,
            both(1.0),
            -1.0,
        ),
        loudness(
            "Music streaming, loud master",
            "common practice, no source: masters above −14 LUFS keep to −2 dBTP; \
             the loudness itself is this list's choice",
            -11.0,
            both(1.0),
            -2.0,
        ),
        // Upper tolerance only: too quiet is not a fail in these documents.
        loudness(
            "AES music, track",
            "AES TD1008.1.21-9 (2021) = AES77-2023, Table 1, music, track-normalised (quotation)",
            -16.0,
            (None, 0.2),
            -1.0,
        ),
        loudness(
            "AES music, album's loudest track",
            "AES TD1008.1.21-9 (2021) = AES77-2023, Table 1, music, album-normalised (quotation)",
            -14.0,
            (None, 0.2),
            -1.0,
        ),
        loudness("Podcast, −16", "common practice, no source", -16.0, both(1.0), -1.0),
        loudness(
            "EBU R 128 programme",
            "EBU R 128 v5 (Nov 2023), items h, i, m (quotation); ±0.2 LU is its measurement \
             tolerance",
            -23.0,
            both(0.2),
            -1.0,
        ),
        loudness(
            "EBU R 128 live programme",
            "EBU R 128 v5 (Nov 2023): ±1.0 LU where exact is impracticable (quotation)",
            -23.0,
            both(1.0),
            -1.0,
        ),
        loudness(
            "ATSC A/85",
            "ATSC A/85:2026-07, §6 and Annex M (quotation); ±2 dB is expected variation, not a \
             range to aim at",
            -24.0,
            both(2.0),
            -2.0,
        ),
        loudness("ARIB TR-B32", "ARIB TR-B32 v1.6 (quotation)", -24.0, both(1.0), -1.0),
        loudness(
            "Free TV OP-59",
            "Free TV Australia OP-59, as tabled in ITU-R BS.2434 (quotation)",
            -24.0,
            both(1.0),
            -2.0,
        ),
    ];

    let mut short_form = loudness(
        "EBU R 128 s1 short form",
        "EBU R 128 s1 v3 (Aug 2020): max short-term −18 LUFS; ±0.2 LU measurement (quotation)",
        -23.0,
        both(0.2),
        -1.0,
    );
    short_form.max_short_term = Some(Lufs(-18.0));
    targets.push(short_form);

    targets.push(Target {
        name: "Mix hand-off to mastering".to_owned(),
        source: COMMON_PRACTICE.to_owned(),
        integrated: None,
        true_peak_ceiling: None,
        max_short_term: None,
        max_momentary: None,
        max_loudness_range: None,
        peak_window: Some(PeakWindow { lowest: Dbfs(-6.0), highest: Dbfs(-3.0) }),
    });
    targets
}

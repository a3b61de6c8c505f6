//! The arithmetic of the distance, line by line.

use super::super::super::Snapshot;
use super::super::super::reason::FigureSet;
use super::super::super::text::{shown, shown_signed};
use super::super::append;
use super::close_section;
use crate::units::{one_decimal, signed_one_decimal};
use std::fmt::Write;

pub(in super::super) fn put_arithmetic(
    out: &mut String,
    snapshot: &Snapshot,
    figures: &FigureSet,
    id: &str,
) {
    let Some(chosen) = snapshot.chosen_target() else {
        return;
    };
    let (target, distance) = (&chosen.target, &chosen.distance);
    let ceiling = target.ceiling().map(|ceiling| ceiling.0);
    let peak = shown_signed(figures.max_true_peak_dbtp);
    let mut rows: Vec<(&str, String, String, &str)> = Vec::new();
    if let (Some(goal), Some(lu), Some(gain)) =
        (target.integrated, distance.distance, distance.gain_to_target)
    {
        let goal = one_decimal(goal.loudness.0);
        let integrated = shown(figures.integrated_lufs);
        rows.push((
            "Distance",
            format!("{integrated} LUFS − ({goal} LUFS)"),
            format!("{} LU", signed_one_decimal(lu.0)),
            "integrated loudness minus target",
        ));
        rows.push((
            "Gain to target",
            format!("{goal} LUFS − ({integrated} LUFS)"),
            format!("{} dB", signed_one_decimal(gain.0)),
            "plain gain that puts the song on the load line",
        ));
        if let Some(at_target) = distance.peak_at_target {
            rows.push((
                "Peak at target",
                format!("{peak} dBTP + ({} dB)", signed_one_decimal(gain.0)),
                format!("{} dBTP", signed_one_decimal(at_target.0)),
                "highest true peak with that gain",
            ));
            if let (Some(ceiling), Some(control)) = (ceiling, distance.peak_control) {
                rows.push((
                    "Peak control",
                    format!(
                        "{} dBTP − ({} dBTP), never below 0",
                        signed_one_decimal(at_target.0),
                        one_decimal(ceiling)
                    ),
                    format!("{} dB", one_decimal(control.0)),
                    "peaks to tame to reach the target under its ceiling",
                ));
            }
        }
    }
    if let (Some(ceiling), Some(headroom)) = (ceiling, distance.headroom) {
        rows.push((
            "Headroom",
            format!("{} dBTP − ({peak} dBTP)", one_decimal(ceiling)),
            format!("{} dB", signed_one_decimal(headroom.0)),
            "ceiling minus highest true peak, as the song is",
        ));
    }
    if let Some(gain) = distance.playback_gain {
        rows.push((
            "Playback gain",
            "gain to target, upwards only as far as the ceiling".to_owned(),
            format!("{} dB", signed_one_decimal(gain.0)),
            "what levelled playback at this target does",
        ));
    }
    if rows.is_empty() {
        return;
    }
    append!(
        out,
        "<section aria-labelledby=\"{id}arithmetic\">\n\
         <h2 id=\"{id}arithmetic\">What stands between the song and the target</h2>\n\
         <div class=\"wide-table\" role=\"group\" aria-labelledby=\"{id}arithmetic\" tabindex=\"0\">\
         <table class=\"arithmetic\" aria-labelledby=\"{id}arithmetic\">\n<thead class=\"hidden\"><tr>\
         <th scope=\"col\">Figure</th><th scope=\"col\">Result</th>\
         <th scope=\"col\">Arithmetic</th><th scope=\"col\">Meaning</th></tr></thead>\n<tbody>\n",
    );
    for (name, sum, result, meaning) in rows {
        append!(
            out,
            "<tr><th scope=\"row\">{name}</th><td><b>{result}</b></td><td>= {sum}</td>\
             <td class=\"text\">{meaning}</td></tr>\n"
        );
    }
    out.push_str(
        "</tbody></table></div>\n<p class=\"note\">Computed unrounded and shown with one decimal, \
         so the last digit of a sum may seem off by one.</p>\n",
    );
    close_section(out);
}

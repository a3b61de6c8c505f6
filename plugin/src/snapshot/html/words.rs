//! What the figures mean, and what they do not say.

use super::append;
use std::fmt::Write;

/// Term, and what it is.
const DEFINITIONS: [(&str, &str); 13] = [
    (
        "Integrated loudness (I), LUFS",
        "the gated, K-weighted level of the whole (ITU-R BS.1770-5, Annex 1). 1 LU is 1 dB.",
    ),
    ("Momentary (M)", "the same over 400 ms, not gated (EBU Tech 3341)."),
    ("Short-term (S)", "the same over 3 s, not gated (EBU Tech 3341)."),
    (
        "Loudness range (LRA), LU",
        "the spread of short-term loudness without its extremes (EBU Tech 3342); not stable under \
         60 s.",
    ),
    (
        "True peak, dBTP",
        "the highest level between the samples too, in dB to full scale (ITU-R BS.1770-5, Annex 2).",
    ),
    ("PLR, LU", "highest true peak minus integrated loudness (EBU R 128 s2)."),
    (
        "Lowest PSR, LU",
        "smallest distance of the true peak of 3 s from the short-term loudness of the same 3 s \
         (common practice, no source).",
    ),
    (
        "Correlation",
        "of left and right: +1 is mono, 0 unrelated, −1 opposite polarity; and the lowest over 1 s.",
    ),
    ("Side to mid, dB", "power of (L − R)/2 to that of (L + R)/2: the higher, the wider."),
    ("Louder by, wider by", "against the section before it."),
    (
        "Gain to target",
        "target minus integrated loudness; peak at target is where the highest true peak lands with \
         that gain.",
    ),
    (
        "Peak control",
        "how far the peak at target lies over the ceiling: the limiting or peak taming that stands \
         between the song and the target.",
    ),
    (
        "Playback gain",
        "what levelling playback at this target does: down always, up at most until the peak meets \
         the ceiling.",
    ),
];

const CAUTIONS: [&str; 4] = [
    "Loudness in LUFS is measured in the signal. It is not sound pressure: no figure here says how \
     loud or how safe it is to listen.",
    "The recipient’s current specification decides. Targets carry their sources; some are common \
     practice without one.",
    "A true peak is an estimate between the samples. Lossy coding can raise it further.",
    "Time that was not measured counts for nothing: figures of a song measured in part are figures \
     of that part. Limits are compared unrounded; “–” is not measured, −∞ is silence.",
];

pub(crate) fn put_words(out: &mut String) {
    out.push_str(
        "<section aria-labelledby=\"cautions\">\n<h2 id=\"cautions\">Cautions</h2>\n\
         <ul class=\"cautions\">\n",
    );
    for caution in CAUTIONS {
        append!(out, "<li>{caution}</li>\n");
    }
    out.push_str(
        "</ul>\n</section>\n<section aria-labelledby=\"definitions\">\n\
         <h2 id=\"definitions\">Definitions</h2>\n<dl class=\"definitions\">\n",
    );
    for (term, meaning) in DEFINITIONS {
        append!(out, "<div><dt>{term}:</dt> <dd>{meaning}</dd></div>\n");
    }
    out.push_str("</dl>\n</section>\n");
}

//! The font, its two weights and the sizes it is set in.

use egui::{Context, FontData, FontDefinitions, FontFamily, FontId, FontTweak, TextStyle, Vec2};
use std::sync::Arc;

/// Name of the semibold family in egui's font table.
const SEMIBOLD: &str = "plimsoll-semibold";
/// How far glyphs are lowered, in multiples of the size of type.
const LOWERED_EM: f32 = 0.1;

/// Hands the fonts to egui; they are there from the next pass on.
pub fn install(ctx: &Context) {
    let mut fonts = FontDefinitions::empty();
    // The font's capitals and digits stand high in its line: lowered, so that figures are centred
    // on the lines and in the buttons that they name.
    let tweak = FontTweak { y_offset_factor: LOWERED_EM, ..FontTweak::default() };
    let regular = FontData::from_static(include_bytes!("../../fonts/PlimsollSans-Regular.ttf"))
        .tweak(tweak.clone());
    let semibold =
        FontData::from_static(include_bytes!("../../fonts/PlimsollSans-SemiBold.ttf")).tweak(tweak);
    fonts.font_data.insert("regular".to_owned(), Arc::new(regular));
    fonts.font_data.insert("semibold".to_owned(), Arc::new(semibold));
    for family in [FontFamily::Proportional, FontFamily::Monospace] {
        fonts.families.insert(family, vec!["regular".to_owned()]);
    }
    fonts.families.insert(
        FontFamily::Name(SEMIBOLD.into()),
        vec!["semibold".to_owned(), "regular".to_owned()],
    );
    ctx.set_fonts(fonts);
}

/// Regular weight.
pub fn regular(size_pt: f32) -> FontId {
    FontId::new(size_pt, FontFamily::Proportional)
}

/// Semibold weight.
pub fn semibold(size_pt: f32) -> FontId {
    FontId::new(size_pt, FontFamily::Name(SEMIBOLD.into()))
}

/// Sizes of type, in logical points, for one size of window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sizes {
    /// Axis figures, units, labels.
    pub small: f32,
    /// Sentences, buttons.
    pub body: f32,
    /// The name of the target, the sentence on the distance.
    pub strong: f32,
}

impl Sizes {
    /// Small windows get 11 to 14 pt, large ones up to a half more.
    pub fn for_window(size: Vec2) -> Self {
        let k = (size.x / 1200.0).min(size.y / 700.0).clamp(0.88, 1.5);
        let half_points = |size_pt: f32| (size_pt * k * 2.0).round() / 2.0;
        Self { small: half_points(12.5), body: half_points(13.5), strong: half_points(16.0) }
    }

    /// The text styles that egui's own widgets use.
    pub fn text_styles(self) -> std::collections::BTreeMap<TextStyle, FontId> {
        [
            (TextStyle::Small, regular(self.small)),
            (TextStyle::Body, regular(self.body)),
            (TextStyle::Button, regular(self.body)),
            (TextStyle::Heading, semibold(self.strong)),
            (TextStyle::Monospace, regular(self.body)),
        ]
        .into()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Width of `text` as egui lays it out, in points.
    fn width_pt(text: &str, font: FontId) -> f32 {
        let ctx = Context::default();
        install(&ctx);
        let mut width = 0.0;
        let mut output = ctx.run_ui(egui::RawInput::default(), |ui| {
            let color = egui::Color32::WHITE;
            width = ui.painter().layout_no_wrap(text.to_owned(), font.clone(), color).size().x;
        });
        output.textures_delta.clear();
        width
    }

    #[test]
    fn digits_and_signs_are_equally_wide_so_that_figures_do_not_jitter() {
        for font in [regular(34.0), semibold(34.0)] {
            let reference = width_pt("0000", font.clone());
            for text in ["1111", "7171", "4040", "9876", "−111", "+747"] {
                let width = width_pt(text, font.clone());
                assert!((width - reference).abs() < 0.01, "{text}: {width} not {reference}");
            }
        }
    }

    #[test]
    fn every_sign_of_the_figures_is_in_the_font() {
        let ctx = Context::default();
        install(&ctx);
        let mut output = ctx.run_ui(egui::RawInput::default(), |ui| {
            for font in [regular(13.0), semibold(13.0)] {
                for sign in "−∞±·Δ–…+,.:/0123456789äÖßéŁΩж".chars() {
                    let has = ui.fonts_mut(|fonts| fonts.has_glyph(&font, sign));
                    assert!(has, "{sign} is missing");
                }
            }
        });
        output.textures_delta.clear();
    }
}

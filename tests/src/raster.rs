//! Pictures of egui without a window or a GPU: runs a UI in an `egui::Context` and fills its
//! triangles on the CPU, as egui's OpenGL painter does (colours multiplied and blended in gamma
//! space, premultiplied alpha, bilinear texture).

mod fill;
mod picture;

pub use picture::{Difference, Picture, PictureError};

use egui::epaint::{ColorImage, ImageData, Primitive};
use egui::{ClippedPrimitive, Context, FullOutput, Rect, TextureId, TexturesDelta, Vec2};
use std::collections::HashMap;

/// Draws `ui` at `size_pt` logical points and `pixels_per_point`, and returns the picture.
///
/// `setup` runs once before the first frame (fonts, style). Three frames are run, so that what
/// egui lays out only in the second pass (menus, dialogs) is in place.
pub fn render(
    size_pt: Vec2,
    pixels_per_point: f32,
    setup: impl FnOnce(&Context),
    mut ui: impl FnMut(&mut egui::Ui),
) -> Picture {
    let mut stage = Stage::new(size_pt, pixels_per_point, setup);
    for _ in 0..3 {
        stage.frame(Vec::new(), &mut ui);
    }
    stage.picture()
}

/// A context with a size and a clock, whose frames can be looked at.
pub struct Stage {
    ctx: Context,
    size_pt: Vec2,
    pixels_per_point: f32,
    time_s: f64,
    textures: Textures,
    output: Option<FullOutput>,
}

impl Stage {
    /// A stage of `size_pt` logical points.
    pub fn new(size_pt: Vec2, pixels_per_point: f32, setup: impl FnOnce(&Context)) -> Self {
        let ctx = Context::default();
        setup(&ctx);
        Self {
            ctx,
            size_pt,
            pixels_per_point,
            time_s: 0.0,
            textures: Textures::default(),
            output: None,
        }
    }

    /// Runs one frame, half a second after the one before.
    pub fn frame(&mut self, events: Vec<egui::Event>, mut ui: impl FnMut(&mut egui::Ui)) {
        self.time_s += 0.5;
        let mut input = egui::RawInput {
            screen_rect: Some(Rect::from_min_size(egui::Pos2::ZERO, self.size_pt)),
            time: Some(self.time_s),
            events,
            ..egui::RawInput::default()
        };
        if let Some(viewport) = input.viewports.get_mut(&egui::ViewportId::ROOT) {
            viewport.native_pixels_per_point = Some(self.pixels_per_point);
        }
        let mut output = self.ctx.run_ui(input, &mut ui);
        self.textures.apply(&mut output.textures_delta);
        self.output = Some(output);
    }

    /// The last frame as a picture; an empty one if there was none.
    #[must_use]
    pub fn picture(&self) -> Picture {
        let pixels = |points: f32| fill::count(points * self.pixels_per_point);
        let mut picture = Picture::new(pixels(self.size_pt.x), pixels(self.size_pt.y));
        if let Some(output) = &self.output {
            let primitives = self.ctx.tessellate(output.shapes.clone(), output.pixels_per_point);
            self.textures.paint(&mut picture, &primitives, output.pixels_per_point);
        }
        picture
    }
}

/// The textures of a context, kept up to date from what each frame hands out.
#[derive(Default)]
pub struct Textures {
    images: HashMap<TextureId, ColorImage>,
}

impl Textures {
    /// Takes over what changed, and leaves `delta` empty.
    pub fn apply(&mut self, delta: &mut TexturesDelta) {
        for (id, changes) in delta.set.drain() {
            for change in changes {
                let ImageData::Color(image) = change.image;
                match (change.pos, self.images.get_mut(&id)) {
                    (Some([left, top]), Some(whole)) => overwrite(whole, left, top, &image),
                    _ => {
                        self.images.insert(id, image.as_ref().clone());
                    }
                }
            }
        }
        for id in delta.free.drain() {
            self.images.remove(&id);
        }
    }

    /// Draws `primitives` over `picture`.
    pub fn paint(
        &self,
        picture: &mut Picture,
        primitives: &[ClippedPrimitive],
        pixels_per_point: f32,
    ) {
        for primitive in primitives {
            // Paint callbacks are for a GPU; the editor has none.
            let Primitive::Mesh(mesh) = &primitive.primitive else { continue };
            let Some(texture) = self.images.get(&mesh.texture_id) else { continue };
            fill::mesh(picture, mesh, texture, primitive.clip_rect, pixels_per_point);
        }
    }
}

fn overwrite(whole: &mut ColorImage, left: usize, top: usize, part: &ColorImage) {
    let width = whole.width();
    for (row, pixels) in part.pixels.chunks_exact(part.width().max(1)).enumerate() {
        let start = (top + row) * width + left;
        if let Some(target) = whole.pixels.get_mut(start..start + pixels.len()) {
            target.copy_from_slice(pixels);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::{Color32, Mesh, pos2, vec2};

    fn paper(ui: &egui::Ui, color: Color32) {
        ui.painter().rect_filled(ui.ctx().content_rect(), 0.0, color);
    }

    #[test]
    fn shared_edges_are_filled_once() {
        // Four half-transparent triangles around one point: no seam, no pixel blended twice.
        let half = Color32::from_rgba_premultiplied(128, 0, 0, 128);
        let picture = render(
            vec2(20.0, 20.0),
            1.0,
            |_| {},
            |ui| {
                paper(ui, Color32::WHITE);
                let mut mesh = Mesh::default();
                let corners = [(0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0), (7.3, 11.9)];
                for (x, y) in corners {
                    mesh.colored_vertex(pos2(x, y), half);
                }
                for i in 0..4_u32 {
                    mesh.add_triangle(i, (i + 1) % 4, 4);
                }
                ui.painter().add(mesh);
            },
        );
        let colours: std::collections::HashSet<_> = picture.pixels().collect();
        assert_eq!(colours.len(), 1, "{colours:?}");
        assert_eq!(picture.pixel(10, 10), Some([255, 127, 127, 255]));
    }

    #[test]
    fn a_clip_rectangle_cuts_at_its_pixels() {
        let picture = render(
            vec2(10.0, 10.0),
            2.0,
            |_| {},
            |ui| {
                paper(ui, Color32::WHITE);
                let clip = Rect::from_min_max(pos2(2.0, 3.0), pos2(5.0, 4.5));
                let painter = ui.painter().with_clip_rect(clip);
                painter.rect_filled(Rect::EVERYTHING, 0.0, Color32::BLACK);
            },
        );
        let black = picture.pixels().filter(|pixel| pixel[0] == 0).count();
        assert_eq!(black, 6 * 3);
        assert_eq!(picture.pixel(4, 6), Some([0, 0, 0, 255]));
        assert_eq!(picture.pixel(10, 6), Some([255, 255, 255, 255]));
    }

    #[test]
    fn a_picture_survives_its_file_and_differences_are_counted() {
        let picture = render(vec2(8.0, 8.0), 1.0, |_| {}, |ui| paper(ui, Color32::RED));
        let again = Picture::from_png(&picture.to_png().unwrap()).unwrap();
        assert_eq!(picture, again);
        let mut other = again.clone();
        other.blend(3, 3, [0, 0, 0, 255]);
        let difference = picture.difference(&other).unwrap();
        assert_eq!((difference.pixels, difference.largest), (1, 255));
        assert!(picture.difference(&Picture::new(7, 8)).is_none());
    }
}

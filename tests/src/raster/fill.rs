//! Filling triangles.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "pixel arithmetic of pictures far smaller than any of the types' ranges"
)]

use super::Picture;
use egui::epaint::{ColorImage, Mesh, Vertex};
use egui::{Color32, Rect};

/// Sub-pixel positions of a corner, as a power of two.
const SUBPIXEL: f32 = 256.0;

/// A size in pixels; negative gives 0.
pub(super) fn count(pixels: f32) -> usize {
    pixels.round() as usize
}

/// Pixels that are drawn to, right and bottom excluded.
#[derive(Clone, Copy)]
struct Scissor {
    left: i64,
    top: i64,
    right: i64,
    bottom: i64,
}

/// A corner in pixels, with colour and texture place as floats.
#[derive(Clone, Copy)]
struct Corner {
    x: i64,
    y: i64,
    rgba: [f32; 4],
    u: f32,
    v: f32,
}

pub(super) fn mesh(
    picture: &mut Picture,
    mesh: &Mesh,
    texture: &ColorImage,
    clip: Rect,
    pixels_per_point: f32,
) {
    let pixel = |points: f32| (points * pixels_per_point).round() as i64;
    let scissor = Scissor {
        left: pixel(clip.left()).max(0),
        top: pixel(clip.top()).max(0),
        right: pixel(clip.right()).min(picture.width() as i64),
        bottom: pixel(clip.bottom()).min(picture.height() as i64),
    };
    // Held far outside of any picture, so that the products of edge functions fit.
    let place =
        |points: f32| (points * pixels_per_point * SUBPIXEL).clamp(-6e7, 6e7).round() as i64;
    let corner = |vertex: &Vertex| Corner {
        x: place(vertex.pos.x),
        y: place(vertex.pos.y),
        rgba: vertex.color.to_array().map(f32::from),
        u: vertex.uv.x,
        v: vertex.uv.y,
    };
    for indices in mesh.indices.chunks_exact(3) {
        let corners: Vec<Corner> = indices
            .iter()
            .filter_map(|&index| mesh.vertices.get(index as usize))
            .map(corner)
            .collect();
        if let [a, b, c] = corners[..] {
            triangle(picture, texture, scissor, a, b, c);
        }
    }
}

/// Twice the signed area of a, b and the point.
fn edge(a: Corner, b: Corner, x: i64, y: i64) -> i64 {
    (b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x)
}

/// Pixels on an edge belong to the triangle right of or below it, so that no pixel on a shared
/// edge is drawn twice.
fn bias(a: Corner, b: Corner) -> i64 {
    let is_top = a.y == b.y && b.x > a.x;
    let is_left = b.y < a.y;
    if is_top || is_left { 0 } else { -1 }
}

fn triangle(
    picture: &mut Picture,
    texture: &ColorImage,
    scissor: Scissor,
    a: Corner,
    b: Corner,
    c: Corner,
) {
    let area = edge(a, b, c.x, c.y);
    if area == 0 {
        return;
    }
    let (b, c, area) = if area < 0 { (c, b, -area) } else { (b, c, area) };
    let unit = SUBPIXEL as i64;
    let low = |values: [i64; 3], edge: i64| {
        values.into_iter().min().unwrap_or(0).div_euclid(unit).max(edge)
    };
    let high = |values: [i64; 3], edge: i64| {
        (values.into_iter().max().unwrap_or(0).div_euclid(unit) + 1).min(edge)
    };
    let biases = [bias(b, c), bias(c, a), bias(a, b)];
    let is_flat = a.u == b.u && b.u == c.u && a.v == b.v && b.v == c.v;
    let flat_texel = sample(texture, a.u, a.v);
    for y in low([a.y, b.y, c.y], scissor.top)..high([a.y, b.y, c.y], scissor.bottom) {
        for x in low([a.x, b.x, c.x], scissor.left)..high([a.x, b.x, c.x], scissor.right) {
            // The middle of the pixel.
            let (px, py) = (x * unit + unit / 2, y * unit + unit / 2);
            let weights = [edge(b, c, px, py), edge(c, a, px, py), edge(a, b, px, py)];
            if weights.iter().zip(biases).any(|(weight, bias)| weight + bias < 0) {
                continue;
            }
            let [wa, wb, wc] = weights.map(|weight| weight as f32 / area as f32);
            let mix = |a: f32, b: f32, c: f32| a * wa + b * wb + c * wc;
            let texel = if is_flat {
                flat_texel
            } else {
                sample(texture, mix(a.u, b.u, c.u), mix(a.v, b.v, c.v))
            };
            let mut source = [0; 4];
            let corners = a.rgba.iter().zip(b.rgba).zip(c.rgba).zip(texel);
            for (out, (((a, b), c), texel)) in source.iter_mut().zip(corners) {
                *out = (mix(*a, b, c) * texel).round().clamp(0.0, 255.0) as u8;
            }
            picture.blend(x as usize, y as usize, source);
        }
    }
}

/// Bilinear, clamped to the edges; 0 to 1 a channel.
fn sample(texture: &ColorImage, u: f32, v: f32) -> [f32; 4] {
    let [width, height] = texture.size;
    let (x, y) = (u * width as f32 - 0.5, v * height as f32 - 0.5);
    let (left, top) = (x.floor(), y.floor());
    let (fx, fy) = (x - left, y - top);
    let texel = |dx: f32, dy: f32| {
        let column = ((left + dx).max(0.0) as usize).min(width.saturating_sub(1));
        let row = ((top + dy).max(0.0) as usize).min(height.saturating_sub(1));
        let color = texture.pixels.get(row * width + column).copied();
        color.unwrap_or(Color32::TRANSPARENT).to_array().map(|c| f32::from(c) / 255.0)
    };
    let mut out = [0.0; 4];
    let corners = texel(0.0, 0.0).into_iter().zip(texel(1.0, 0.0));
    let corners = corners.zip(texel(0.0, 1.0).into_iter().zip(texel(1.0, 1.0)));
    for (out, ((a, b), (c, d))) in out.iter_mut().zip(corners) {
        let upper = a + (b - a) * fx;
        let lower = c + (d - c) * fx;
        *out = upper + (lower - upper) * fy;
    }
    out
}

//! A picture in memory and as a PNG file.

use std::fmt;
use std::path::Path;

/// An image, 8 bits a channel, red, green, blue, alpha, rows from the top.
#[derive(Clone, PartialEq, Eq)]
pub struct Picture {
    width: usize,
    height: usize,
    rgba: Vec<u8>,
}

/// How two pictures of one size differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Difference {
    /// Pixels with a channel that differs by more than [`Difference::NOTICED`].
    pub pixels: usize,
    /// Largest difference of one channel, 0 to 255.
    pub largest: u8,
}

impl Difference {
    /// Differences up to this, of 255, are rounding.
    pub const NOTICED: u8 = 8;
}

/// Why a picture could not be read or written.
#[derive(Debug)]
pub enum PictureError {
    /// The file.
    File(std::io::Error),
    /// Not a PNG, or not one of 8-bit RGB or RGBA.
    Format(String),
}

impl fmt::Display for PictureError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File(error) => write!(f, "{error}"),
            Self::Format(reason) => write!(f, "not a picture that is understood: {reason}"),
        }
    }
}

impl std::error::Error for PictureError {}

impl fmt::Debug for Picture {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Picture({} x {})", self.width, self.height)
    }
}

impl Picture {
    /// A transparent picture.
    #[must_use]
    pub fn new(width: usize, height: usize) -> Self {
        Self { width, height, rgba: vec![0; width * height * 4] }
    }

    /// A picture of these pixels, row by row from the top; missing ones are transparent.
    #[must_use]
    pub fn from_rgba(width: usize, height: usize, mut rgba: Vec<u8>) -> Self {
        rgba.resize(width * height * 4, 0);
        Self { width, height, rgba }
    }

    /// Width in pixels.
    #[must_use]
    pub const fn width(&self) -> usize {
        self.width
    }

    /// Height in pixels.
    #[must_use]
    pub const fn height(&self) -> usize {
        self.height
    }

    /// One pixel.
    #[must_use]
    pub fn pixel(&self, x: usize, y: usize) -> Option<[u8; 4]> {
        let start = (y * self.width + x) * 4;
        self.rgba.get(start..start + 4)?.try_into().ok()
    }

    /// All pixels, row by row.
    pub fn pixels(&self) -> impl Iterator<Item = [u8; 4]> + '_ {
        self.rgba.as_chunks::<4>().0.iter().copied()
    }

    /// Lays a premultiplied colour over a pixel; outside the picture nothing happens.
    pub fn blend(&mut self, x: usize, y: usize, source: [u8; 4]) {
        let start = (y * self.width + x) * 4;
        let Some(target) = self.rgba.get_mut(start..start + 4) else { return };
        let through = 255 - u16::from(source[3]);
        for (target, source) in target.iter_mut().zip(source) {
            let kept = (u16::from(*target) * through + 127) / 255;
            *target = u8::try_from((u16::from(source) + kept).min(255)).unwrap_or(u8::MAX);
        }
    }

    /// How `other` differs; `None` if it has another size.
    #[must_use]
    pub fn difference(&self, other: &Self) -> Option<Difference> {
        if (self.width, self.height) != (other.width, other.height) {
            return None;
        }
        let mut difference = Difference { pixels: 0, largest: 0 };
        for (a, b) in self.pixels().zip(other.pixels()) {
            let apart = a.iter().zip(b).map(|(a, b)| a.abs_diff(b)).max().unwrap_or(0);
            difference.largest = difference.largest.max(apart);
            difference.pixels += usize::from(apart > Difference::NOTICED);
        }
        Some(difference)
    }

    /// As PNG: RGB, as small as the encoder gets it.
    ///
    /// # Errors
    /// The size is zero or beyond what PNG holds.
    pub fn to_png(&self) -> Result<Vec<u8>, PictureError> {
        let size = |pixels: usize| {
            u32::try_from(pixels).map_err(|_| PictureError::Format(format!("{pixels} pixels wide")))
        };
        let mut bytes = Vec::new();
        let mut encoder = png::Encoder::new(&mut bytes, size(self.width)?, size(self.height)?);
        encoder.set_color(png::ColorType::Rgb);
        encoder.set_depth(png::BitDepth::Eight);
        encoder.set_compression(png::Compression::High);
        // Flat areas and letters: rows as they are compress best.
        encoder.set_filter(png::Filter::NoFilter);
        let rgb: Vec<u8> = self.pixels().flat_map(|[r, g, b, _]| [r, g, b]).collect();
        let format = |error: png::EncodingError| PictureError::Format(error.to_string());
        let mut writer = encoder.write_header().map_err(format)?;
        writer.write_image_data(&rgb).map_err(format)?;
        writer.finish().map_err(format)?;
        Ok(bytes)
    }

    /// From PNG.
    ///
    /// # Errors
    /// It is no PNG of 8-bit RGB or RGBA.
    pub fn from_png(bytes: &[u8]) -> Result<Self, PictureError> {
        let format = |error: png::DecodingError| PictureError::Format(error.to_string());
        let decoder = png::Decoder::new(std::io::Cursor::new(bytes));
        let mut reader = decoder.read_info().map_err(format)?;
        let too_large = || PictureError::Format("too large".to_owned());
        let mut data = vec![0; reader.output_buffer_size().ok_or_else(too_large)?];
        let info = reader.next_frame(&mut data).map_err(format)?;
        let rgba = match (info.color_type, info.bit_depth) {
            (png::ColorType::Rgba, png::BitDepth::Eight) => data,
            (png::ColorType::Rgb, png::BitDepth::Eight) => {
                data.as_chunks::<3>().0.iter().flat_map(|&[r, g, b]| [r, g, b, 255]).collect()
            }
            other => return Err(PictureError::Format(format!("colour type {other:?}"))),
        };
        let size = |pixels: u32| usize::try_from(pixels).map_err(|_| too_large());
        Ok(Self { width: size(info.width)?, height: size(info.height)?, rgba })
    }

    /// Writes a PNG file.
    ///
    /// # Errors
    /// See [`Picture::to_png`], and the file system.
    pub fn save(&self, path: &Path) -> Result<(), PictureError> {
        std::fs::write(path, self.to_png()?).map_err(PictureError::File)
    }

    /// Reads a PNG file.
    ///
    /// # Errors
    /// See [`Picture::from_png`], and the file system.
    pub fn load(path: &Path) -> Result<Self, PictureError> {
        Self::from_png(&std::fs::read(path).map_err(PictureError::File)?)
    }
}

//! Photos of pieces, read and written anew so that nothing but the pixels is kept.

use std::io::Cursor;

use image::codecs::jpeg::JpegEncoder;
use image::{DynamicImage, ImageDecoder, ImageReader, Limits};

use crate::store::photo::NewPhoto;

/// The largest file that is read.
pub const MOST_BYTES: usize = 12 * 1024 * 1024;
/// The longest side that is read, in pixels: larger ones could take memory that others need.
const MOST_PIXELS_A_SIDE: u32 = 12_000;
/// The most memory that decoding may take.
const MOST_MEMORY: u64 = 192 * 1024 * 1024;
/// The longest side that is kept.
const KEPT_PIXELS_A_SIDE: u32 = 1_600;
const QUALITY: u8 = 82;

/// Why a file is no photo that can be kept.
#[derive(Debug, thiserror::Error)]
pub enum PhotoError {
    #[error("is {0} bytes; must be at most {MOST_BYTES}")]
    TooLarge(usize),
    #[error("cannot be read as an image; must be a JPEG, PNG or WebP file")]
    NotAnImage,
    #[error("is too large to open; must be at most {MOST_PIXELS_A_SIDE} pixels on each side")]
    TooManyPixels,
}

/// Reads a photo, turns it upright, makes it small and writes it as JPEG without metadata.
///
/// It takes up to a second of processor time: call it off the async threads.
pub fn prepare(bytes: &[u8]) -> Result<NewPhoto, PhotoError> {
    if bytes.len() > MOST_BYTES {
        return Err(PhotoError::TooLarge(bytes.len()));
    }
    let mut limits = Limits::default();
    limits.max_image_width = Some(MOST_PIXELS_A_SIDE);
    limits.max_image_height = Some(MOST_PIXELS_A_SIDE);
    limits.max_alloc = Some(MOST_MEMORY);
    let mut reader = ImageReader::new(Cursor::new(bytes))
        .with_guessed_format()
        .map_err(|_| PhotoError::NotAnImage)?;
    reader.limits(limits);
    let refused = |error| match error {
        image::ImageError::Limits(_) => PhotoError::TooManyPixels,
        _ => PhotoError::NotAnImage,
    };
    let mut decoder = reader.into_decoder().map_err(refused)?;
    let orientation = decoder.orientation().map_err(refused)?;
    let mut image = DynamicImage::from_decoder(decoder).map_err(refused)?;
    image.apply_orientation(orientation);
    if image.width().max(image.height()) > KEPT_PIXELS_A_SIDE {
        image = image.thumbnail(KEPT_PIXELS_A_SIDE, KEPT_PIXELS_A_SIDE);
    }
    let image = image.into_rgb8();
    let mut written = Vec::new();
    JpegEncoder::new_with_quality(&mut written, QUALITY)
        .encode_image(&image)
        .map_err(|_| PhotoError::NotAnImage)?;
    Ok(NewPhoto {
        media_type: "image/jpeg".to_owned(),
        bytes: written,
        width: image.width(),
        height: image.height(),
    })
}

//! Photos: read, made small, and written without anything but their pixels.

use std::io::Cursor;

use image::{DynamicImage, ImageFormat, RgbImage};
use scrapwright::app::photo::{self, PhotoError};
use scrapwright::store::photo as photos;

use super::bench::{Bench, inches};

fn written(width: u32, height: u32, format: ImageFormat) -> Vec<u8> {
    let image = RgbImage::from_fn(width, height, |x, y| {
        image::Rgb([x.to_le_bytes()[0], y.to_le_bytes()[0], 90])
    });
    let mut bytes = Cursor::new(Vec::new());
    DynamicImage::ImageRgb8(image)
        .write_to(&mut bytes, format)
        .unwrap();
    bytes.into_inner()
}

#[test]
fn every_format_comes_out_as_a_small_jpeg() {
    for format in [ImageFormat::Jpeg, ImageFormat::Png, ImageFormat::WebP] {
        let photo = photo::prepare(&written(400, 200, format)).unwrap();
        assert_eq!(
            (photo.media_type.as_str(), photo.width, photo.height),
            ("image/jpeg", 400, 200)
        );
    }
    let photo = photo::prepare(&written(3200, 1200, ImageFormat::Png)).unwrap();
    assert_eq!((photo.width, photo.height), (1600, 600));
}

#[test]
fn where_it_was_taken_is_forgotten() {
    // An APP1 segment (JPEG, ITU-T T.81 B.2.4.6, as Exif uses it) put right behind the start.
    let plain = written(64, 64, ImageFormat::Jpeg);
    let secret = b"Exif\0\0 52.5163 N 13.3777 E";
    let mut told = plain[..2].to_vec();
    told.extend([0xFF, 0xE1]);
    told.extend(u16::try_from(secret.len() + 2).unwrap().to_be_bytes());
    told.extend(secret);
    told.extend(&plain[2..]);
    let photo = photo::prepare(&told).unwrap();
    let holds = |bytes: &[u8], part: &[u8]| bytes.windows(part.len()).any(|window| window == part);
    assert!(holds(&told, b"52.5163"));
    assert!(!holds(&photo.bytes, b"52.5163") && !holds(&photo.bytes, b"Exif"));
}

#[test]
fn what_is_no_photo_is_refused() {
    assert!(matches!(
        photo::prepare(b"not an image"),
        Err(PhotoError::NotAnImage)
    ));
    assert!(matches!(photo::prepare(b""), Err(PhotoError::NotAnImage)));
    let cut_off = &written(400, 200, ImageFormat::Png)[..200];
    assert!(matches!(
        photo::prepare(cut_off),
        Err(PhotoError::NotAnImage)
    ));
    assert!(matches!(
        photo::prepare(&vec![0; photo::MOST_BYTES + 1]),
        Err(PhotoError::TooLarge(_))
    ));
}

#[test]
fn a_small_file_that_would_unfold_to_gigabytes_is_refused_before_it_does() {
    // The header of a PNG (ISO/IEC 15948, 11.2.2) that promises 60 000 x 60 000 pixels.
    let mut bomb = written(1, 1, ImageFormat::Png);
    bomb[16..20].copy_from_slice(&60_000_u32.to_be_bytes());
    bomb[20..24].copy_from_slice(&60_000_u32.to_be_bytes());
    let crc = crc32(&bomb[12..29]);
    bomb[29..33].copy_from_slice(&crc.to_be_bytes());
    assert!(matches!(
        photo::prepare(&bomb),
        Err(PhotoError::TooManyPixels)
    ));
}

/// ISO/IEC 15948, annex D.
fn crc32(bytes: &[u8]) -> u32 {
    let mut crc = u32::MAX;
    for byte in bytes {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 {
                0xEDB8_8320 ^ (crc >> 1)
            } else {
                crc >> 1
            };
        }
    }
    !crc
}

#[tokio::test]
async fn a_photo_is_kept_with_its_piece_and_can_be_taken_away() {
    let bench = Bench::new().await;
    let id = bench
        .add(&bench.maple(inches(24, 1), inches(3, 1), 1))
        .await;
    let photo = photo::prepare(&written(64, 64, ImageFormat::Png)).unwrap();
    let mut db = bench.app.store.begin().await.unwrap();
    photos::put(&mut db, bench.by(), id, &photo).await.unwrap();
    photos::put(&mut db, bench.by(), id, &photo).await.unwrap();
    db.commit().await.unwrap();
    assert!(bench.offcut(id).await.has_photo);
    let kept = photos::find(bench.app.store.read(), id)
        .await
        .unwrap()
        .unwrap();
    assert_eq!(kept.image, photo);
    let mut db = bench.app.store.begin().await.unwrap();
    photos::remove(&mut db, bench.by(), id).await.unwrap();
    db.commit().await.unwrap();
    assert!(!bench.offcut(id).await.has_photo);
}

//! Wood as it looks: quiet grain in a species' own colour, the same for the same seed.

use super::drawing::{Canvas, Rect};
use super::paint::Paint;
use super::palette::Colour;
use super::path::Path;

/// A stream of numbers that depends on its seed only. SplitMix64: Steele, Lea and Flood, "Fast
/// splittable pseudorandom number generators", OOPSLA 2014; constants from memory.
struct Grain(u64);

impl Grain {
    fn new(seed: u64) -> Grain {
        Grain(seed)
    }

    /// From -1 to 1.
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^= mixed >> 31;
        (mixed >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }
}

/// A seed from a name, so that a piece looks the same wherever it is drawn (FNV-1a, 64 bits).
pub fn seed_of(name: &str) -> u64 {
    name.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

/// A tenth of a unit is finer than a screen shows; fewer digits keep pages small.
fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

/// A face with its grain running across the page.
pub fn long_grain(canvas: &mut Canvas, face: Rect, colour: Colour, seed: u64) {
    canvas.rect(face, &Paint::fill(colour));
    grain_lines(canvas, face, colour, seed);
}

/// The grain lines alone, over a face that is painted already.
pub fn grain_lines(canvas: &mut Canvas, face: Rect, colour: Colour, seed: u64) {
    if face.width < 6.0 || face.height < 2.0 {
        return;
    }
    let mut grain = Grain::new(seed);
    let lines = ((face.height / 4.5).round() as usize).clamp(1, 14);
    let pitch = face.height / lines as f64;
    let sway = (pitch * 0.28).min(2.2);
    let (mut fine, mut broad) = (Path::new(), Path::new());
    for line in 0..lines {
        let y = face.y + pitch * (line as f64 + 0.5 + 0.22 * grain.next());
        let start = face.x + face.width * 0.12 * grain.next().max(0.0);
        let end = face.right() - face.width * 0.12 * grain.next().max(0.0);
        let middle = start + (end - start) * (0.5 + 0.18 * grain.next());
        let joint = y + sway * 0.4 * grain.next();
        let stroke = |path: Path, grain: &mut Grain| {
            path.to(tenth(start), tenth(y))
                .curve(
                    (
                        tenth((start + middle) / 2.0),
                        tenth(y + sway * grain.next()),
                    ),
                    tenth(middle),
                    tenth(joint),
                )
                .curve(
                    (
                        tenth((middle + end) / 2.0),
                        tenth(joint + sway * grain.next()),
                    ),
                    tenth(end),
                    tenth(y + sway * 0.5 * grain.next()),
                )
        };
        if line % 3 == 1 {
            broad = stroke(broad, &mut grain);
        } else {
            fine = stroke(fine, &mut grain);
        }
    }
    // Dark woods show their grain lighter, pale woods darker.
    let tone = if colour.luminance() < 0.06 {
        colour.lighter(0.22)
    } else {
        colour.darker(0.34)
    };
    if !fine.is_empty() {
        canvas.path(&fine, &Paint::line(tone, 0.6).opacity(0.55));
    }
    if !broad.is_empty() {
        canvas.path(&broad, &Paint::line(tone, 1.3).opacity(0.4));
    }
}

/// Growth rings on a face across the fibres, as shallow bows added to `rings`; all stay on the face.
pub fn end_grain(rings: Path, face: Rect, seed: u64) -> Path {
    let mut rings = rings;
    if face.width < 4.0 || face.height < 4.0 {
        return rings;
    }
    let mut grain = Grain::new(seed);
    let count = ((face.height / 6.0).round() as usize).clamp(2, 4);
    let bow = face.height * 0.16 * if grain.next() > 0.0 { 1.0 } else { -1.0 };
    for ring in 0..count {
        let y = face.y + face.height * (ring as f64 + 0.5 + 0.2 * grain.next()) / count as f64;
        let top = (y + bow).clamp(face.y, face.bottom());
        rings = rings.to(tenth(face.x), tenth(y)).curve(
            (tenth(face.x + face.width / 2.0), tenth(top)),
            tenth(face.right()),
            tenth(y),
        );
    }
    rings
}

/// How rings gathered by [`end_grain`] are drawn on a species' colour.
pub fn ring_paint(colour: Colour) -> Paint {
    let tone = if colour.luminance() < 0.06 {
        colour.lighter(0.2)
    } else {
        colour.darker(0.32)
    };
    Paint::line(tone, 0.7).opacity(0.5)
}

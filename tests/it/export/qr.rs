//! QR codes, read by a decoder that shares no code with the writer.

use scrapwright::export::qr::QrCode;

use super::drawing::Seen;

/// Reads a code as a camera would, from a picture with four modules of clear border.
fn decode(code: &QrCode) -> String {
    const PIXELS: usize = 4;
    let side = (code.side() + 8) * PIXELS;
    let mut picture = rqrr::PreparedImage::prepare_from_greyscale(side, side, |x, y| {
        let (row, column) = (y / PIXELS, x / PIXELS);
        let is_dark = row >= 4 && column >= 4 && code.is_dark(row - 4, column - 4);
        if is_dark { 0 } else { 255 }
    });
    let grids = picture.detect_grids();
    assert_eq!(grids.len(), 1, "one code is seen");
    grids[0].decode().expect("it can be read").1
}

#[test]
fn a_code_reads_back_as_its_text() {
    for text in [
        "https://workshop.example/t/B3-0412",
        "http://127.0.0.1:8080/t/A-1",
        "HTTPS://WORKSHOP.EXAMPLE/T/B3-0412",
        "0123456789",
        "Werkstatt über dem Bach: Stück 7",
    ] {
        assert_eq!(decode(&QrCode::new(text).expect("it is short")), text);
    }
    let long = format!("https://workshop.example/{}", "a".repeat(400));
    assert_eq!(decode(&QrCode::new(&long).expect("it fits")), long);
}

#[test]
fn a_code_that_is_worn_still_reads() {
    // Level M restores about 15 % of the codewords (ISO/IEC 18004, table 12); a corner scratch is less.
    let text = "https://workshop.example/t/B3-0412";
    let code = QrCode::new(text).expect("it is short");
    let side = code.side() + 8;
    let mut picture = rqrr::PreparedImage::prepare_from_greyscale(side * 4, side * 4, |x, y| {
        let (row, column) = (y / 4, x / 4);
        let scratched = (14..18).contains(&row) && (20..24).contains(&column);
        let is_dark = !scratched && row >= 4 && column >= 4 && code.is_dark(row - 4, column - 4);
        if is_dark { 0 } else { 255 }
    });
    let grids = picture.detect_grids();
    assert_eq!(grids[0].decode().expect("it can be read").1, text);
}

/// ISO/IEC 18004, 6.3.3 (finder patterns) and 7.3.4.2: a version has 17 + 4 v modules along a side.
#[test]
fn a_code_has_its_three_finder_patterns() {
    let code = QrCode::new("https://workshop.example/t/B3-0412").expect("it is short");
    let side = code.side();
    assert_eq!((side - 17) % 4, 0);
    for (top, left) in [(0, 0), (0, side - 7), (side - 7, 0)] {
        for row in 0..7 {
            for column in 0..7 {
                let ring = row.min(column).min(6 - row).min(6 - column);
                assert_eq!(code.is_dark(top + row, left + column), ring != 1);
            }
        }
    }
    assert!(code.is_dark(side - 8, 8), "the module that is always dark");
}

#[test]
fn a_code_is_black_on_white_whatever_the_scheme() {
    let code = QrCode::new("https://workshop.example/t/A-1").expect("it is short");
    let seen = Seen::new(&code.drawing("d1", "Code of A-1", "Opens the page of A-1."));
    assert_eq!(seen.only("path.code").attr("fill"), Some("#000000"));
    assert_eq!(seen.all("rect[fill='#ffffff']").len(), 1);
}

#[test]
fn a_text_that_is_too_long_is_refused() {
    let error = QrCode::new(&"a".repeat(3000)).expect_err("it does not fit");
    assert_eq!(
        error.to_string(),
        "is 3000 bytes long; must be short enough for a QR code, at most 2331 bytes"
    );
}

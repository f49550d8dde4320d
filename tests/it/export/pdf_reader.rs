//! Reads back from the bytes of a PDF what is drawn and written on its pages.

use std::collections::BTreeMap;
use std::io::Read as _;

const POINTS_PER_MM: f64 = 72.0 / 25.4;

#[derive(Clone, Debug)]
pub struct Stroke {
    /// Along the path, in millimetres on the paper.
    pub length: f64,
    pub low: (f64, f64),
    pub high: (f64, f64),
}

impl Stroke {
    pub fn size(&self) -> (f64, f64) {
        (self.high.0 - self.low.0, self.high.1 - self.low.1)
    }
}

#[derive(Debug)]
pub struct Page {
    /// Of the media box, in millimetres.
    pub size: (f64, f64),
    pub strokes: Vec<Stroke>,
}

type Matrix = [f64; 6];

fn after(inner: Matrix, outer: Matrix) -> Matrix {
    [
        inner[0] * outer[0] + inner[1] * outer[2],
        inner[0] * outer[1] + inner[1] * outer[3],
        inner[2] * outer[0] + inner[3] * outer[2],
        inner[2] * outer[1] + inner[3] * outer[3],
        inner[4] * outer[0] + inner[5] * outer[2] + outer[4],
        inner[4] * outer[1] + inner[5] * outer[3] + outer[5],
    ]
}

fn find(bytes: &[u8], wanted: &[u8], from: usize) -> Option<usize> {
    bytes[from..]
        .windows(wanted.len())
        .position(|window| window == wanted)
        .map(|at| at + from)
}

/// The body of object `number`, without its stream, and the decoded stream if it has one.
fn object(pdf: &[u8], number: usize) -> (String, Vec<u8>) {
    let head = format!("\n{number} 0 obj\n");
    let start = find(pdf, head.as_bytes(), 0).expect("the object is there") + head.len();
    let end = find(pdf, b"endobj", start).expect("the object ends");
    let body = &pdf[start..end];
    let Some(stream) = find(body, b"stream\n", 0) else {
        return (String::from_utf8_lossy(body).into_owned(), Vec::new());
    };
    let dictionary = String::from_utf8_lossy(&body[..stream]).into_owned();
    let length: usize = number_after(&dictionary, "/Length ") as usize;
    let data = &body[stream + 7..stream + 7 + length];
    let mut decoded = Vec::new();
    if dictionary.contains("/FlateDecode") {
        flate2::read::ZlibDecoder::new(data)
            .read_to_end(&mut decoded)
            .expect("a sound stream");
    } else {
        decoded.extend_from_slice(data);
    }
    (dictionary, decoded)
}

fn number_after(text: &str, key: &str) -> f64 {
    let rest = &text[text.find(key).expect("the key is there") + key.len()..];
    let end = rest
        .find(|letter: char| !(letter.is_ascii_digit() || "+-.".contains(letter)))
        .unwrap_or(rest.len());
    rest[..end].parse().expect("a number")
}

fn numbers_in(text: &str, key: &str) -> Vec<f64> {
    let rest = &text[text.find(key).expect("the key is there") + key.len()..];
    let rest = &rest[..rest.find(']').expect("an array")];
    rest.trim_start_matches('[')
        .split_whitespace()
        .map(|number| number.parse().expect("a number"))
        .collect()
}

pub fn read(pdf: &[u8]) -> Vec<Page> {
    assert!(pdf.starts_with(b"%PDF-1."), "a PDF by ISO 32000");
    let mut pages = Vec::new();
    for number in 1.. {
        if find(pdf, format!("\n{number} 0 obj\n").as_bytes(), 0).is_none() {
            break;
        }
        let (body, _) = object(pdf, number);
        if !body.contains("/Type/Page/") {
            continue;
        }
        let media = numbers_in(&body, "/MediaBox");
        let content = number_after(&body, "/Contents ") as usize;
        let (_, stream) = object(pdf, content);
        pages.push(Page {
            size: (media[2] / POINTS_PER_MM, media[3] / POINTS_PER_MM),
            strokes: strokes(&String::from_utf8_lossy(&stream)),
        });
    }
    pages
}

/// Every stroked path of a content stream (ISO 32000-1, 8.5), in millimetres on the paper.
fn strokes(content: &str) -> Vec<Stroke> {
    let mut found = Vec::new();
    let mut matrix: Matrix = [1.0, 0.0, 0.0, 1.0, 0.0, 0.0];
    let mut saved = Vec::new();
    let mut operands: Vec<f64> = Vec::new();
    let mut points: Vec<(f64, f64)> = Vec::new();
    let mut length = 0.0;
    for word in content.split_whitespace() {
        if let Ok(number) = word.parse() {
            operands.push(number);
            continue;
        }
        let place = |x: f64, y: f64| {
            (
                (matrix[0] * x + matrix[2] * y + matrix[4]) / POINTS_PER_MM,
                (matrix[1] * x + matrix[3] * y + matrix[5]) / POINTS_PER_MM,
            )
        };
        match word {
            "q" => saved.push(matrix),
            "Q" => matrix = saved.pop().expect("as many Q as q"),
            "cm" => {
                let inner = [0, 1, 2, 3, 4, 5].map(|index| operands[index]);
                matrix = after(inner, matrix);
            }
            "m" => points.push(place(operands[0], operands[1])),
            "l" => {
                let to = place(operands[0], operands[1]);
                length += distance(points[points.len() - 1], to);
                points.push(to);
            }
            "c" => {
                let from = points[points.len() - 1];
                let control = [0, 2, 4].map(|at| place(operands[at], operands[at + 1]));
                for step in 1..=64 {
                    let t = f64::from(step) / 64.0;
                    let to = bezier(from, control, t);
                    length += distance(points[points.len() - 1], to);
                    points.push(to);
                }
            }
            "S" | "s" | "f" | "f*" | "n" | "B" | "B*" | "b" | "b*" => {
                if matches!(word, "S" | "s" | "B" | "b") && !points.is_empty() {
                    let fold = |pick: fn(&(f64, f64)) -> f64, with: fn(f64, f64) -> f64| {
                        points.iter().map(pick).reduce(with).expect("points")
                    };
                    found.push(Stroke {
                        length,
                        low: (fold(|p| p.0, f64::min), fold(|p| p.1, f64::min)),
                        high: (fold(|p| p.0, f64::max), fold(|p| p.1, f64::max)),
                    });
                }
                points.clear();
                length = 0.0;
            }
            _ => {}
        }
        operands.clear();
    }
    found
}

/// The words of each page: its codes by the font's table to Unicode (ISO 32000-1, 9.10.3).
pub fn words_of(pdf: &[u8]) -> Vec<String> {
    let mut pages = Vec::new();
    for number in 1.. {
        if find(pdf, format!("\n{number} 0 obj\n").as_bytes(), 0).is_none() {
            break;
        }
        let (body, _) = object(pdf, number);
        if !body.contains("/Type/Page/") {
            continue;
        }
        let (_, stream) = object(pdf, number_after(&body, "/Contents ") as usize);
        let (resources, _) = object(pdf, number_after(&body, "/Resources ") as usize);
        let fonts = &resources[resources.find("/Font").expect("it has words")..];
        let mut words = String::new();
        let mut table = BTreeMap::new();
        let mut at = 0;
        while at < stream.len() {
            match stream[at] {
                // The name of a font, in a stream that names nothing else.
                b'/' => {
                    let end = at
                        + stream[at..]
                            .iter()
                            .position(|byte| *byte == b' ')
                            .expect("a name ends");
                    let name = String::from_utf8_lossy(&stream[at..=end]).into_owned();
                    if name.starts_with("/f") {
                        table = unicode_of(pdf, number_after(fonts, &name) as usize);
                    }
                    at = end;
                }
                b'(' => {
                    let (bytes, end) = literal(&stream, at + 1);
                    for code in bytes.chunks(2) {
                        let code = format!("{:02X}{:02X}", code[0], code[1]);
                        words.push_str(table.get(&code).map_or("?", String::as_str));
                    }
                    at = end;
                }
                _ => at += 1,
            }
        }
        pages.push(words);
    }
    pages
}

/// A literal string (ISO 32000-1, 7.3.4.2) from after its bracket, and the place behind it.
fn literal(stream: &[u8], from: usize) -> (Vec<u8>, usize) {
    let mut bytes = Vec::new();
    let mut at = from;
    loop {
        match stream[at] {
            b')' => return (bytes, at + 1),
            b'\\' if stream[at + 1].is_ascii_digit() => {
                let octal = String::from_utf8_lossy(&stream[at + 1..at + 4]).into_owned();
                bytes.push(u8::from_str_radix(&octal, 8).expect("three octal digits"));
                at += 4;
            }
            b'\\' => {
                bytes.push(match stream[at + 1] {
                    b'n' => b'\n',
                    b'r' => b'\r',
                    b't' => b'\t',
                    b'b' => 8,
                    b'f' => 12,
                    other => other,
                });
                at += 2;
            }
            other => {
                bytes.push(other);
                at += 1;
            }
        }
    }
}

fn unicode_of(pdf: &[u8], font: usize) -> BTreeMap<String, String> {
    let (font, _) = object(pdf, font);
    let (_, table) = object(pdf, number_after(&font, "/ToUnicode ") as usize);
    let table = String::from_utf8_lossy(&table).into_owned();
    let text = |hex: &str| -> String {
        let units: Vec<u16> = hex
            .as_bytes()
            .chunks(4)
            .filter_map(|unit| u16::from_str_radix(&String::from_utf8_lossy(unit), 16).ok())
            .collect();
        String::from_utf16_lossy(&units)
    };
    let mut found = BTreeMap::new();
    for line in table.lines() {
        let hex: Vec<&str> = line
            .split('<')
            .skip(1)
            .filter_map(|rest| rest.split('>').next())
            .collect();
        if let [code, letters] = hex.as_slice() {
            found.insert(code.to_uppercase(), text(letters));
        }
    }
    found
}

fn distance(from: (f64, f64), to: (f64, f64)) -> f64 {
    (to.0 - from.0).hypot(to.1 - from.1)
}

fn bezier(from: (f64, f64), [one, two, to]: [(f64, f64); 3], t: f64) -> (f64, f64) {
    let weight = [
        (1.0 - t).powi(3),
        3.0 * t * (1.0 - t).powi(2),
        3.0 * t * t * (1.0 - t),
        t.powi(3),
    ];
    (
        weight[0] * from.0 + weight[1] * one.0 + weight[2] * two.0 + weight[3] * to.0,
        weight[0] * from.1 + weight[1] * one.1 + weight[2] * two.1 + weight[3] * to.1,
    )
}

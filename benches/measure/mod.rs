//! What both benches measure with: clock, peak memory, the published problems, plots.

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// One run.
pub struct Run<T> {
    pub answer: T,
    pub seconds: f64,
    /// Most memory of the whole process while it ran, in MB; `None` where the system does not tell.
    pub peak_mb: Option<f64>,
}

pub fn run<T>(work: impl FnOnce() -> T) -> Run<T> {
    // Linux forgets the peak so far when 5 is written here.
    let is_reset = fs::write("/proc/self/clear_refs", "5").is_ok();
    let started = Instant::now();
    let answer = work();
    let seconds = started.elapsed().as_secs_f64();
    Run {
        answer,
        seconds,
        peak_mb: is_reset.then(peak_mb).flatten(),
    }
}

fn peak_mb() -> Option<f64> {
    let status = fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    let kb: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kb / 1024.0)
}

pub fn shown_mb(peak: Option<f64>) -> String {
    peak.map_or_else(|| "?".to_owned(), |mb| format!("{mb:.0}"))
}

/// A clock that began now, for a budget.
pub fn clock() -> impl Fn() -> Duration + Send + Sync {
    let started = Instant::now();
    move || started.elapsed()
}

/// Where published problems lie, from the environment variable `SCRAPWRIGHT_BENCHMARKS`.
#[expect(
    clippy::disallowed_methods,
    reason = "a bench has no configuration of its own"
)]
pub fn folder() -> Option<PathBuf> {
    std::env::var_os("SCRAPWRIGHT_BENCHMARKS").map(PathBuf::from)
}

/// The problems of a folder whose names begin so, with their bodies, by name.
pub fn problems(folder: &Path, prefix: &str) -> Vec<(String, Vec<u8>)> {
    let Ok(entries) = fs::read_dir(folder) else {
        println!("{} cannot be read", folder.display());
        return Vec::new();
    };
    let mut found: Vec<(String, Vec<u8>)> = entries
        .flatten()
        .filter_map(|entry| {
            let path = entry.path();
            let name = path.file_stem()?.to_str()?.to_owned();
            let is_wanted = path.extension()? == "json" && name.starts_with(prefix);
            is_wanted.then(|| Some((name, fs::read(&path).ok()?)))?
        })
        .collect();
    found.sort();
    found
}

/// A table of comma-separated values by its first column.
pub fn table(path: &Path) -> Vec<Vec<String>> {
    let text = fs::read_to_string(path).unwrap_or_default();
    let lines = text.lines().skip(1);
    lines
        .map(|line| line.split(',').map(str::to_owned).collect())
        .collect()
}

/// `sorted` may come in any order.
pub fn quantile(values: &[f64], share: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let place = (sorted.len() as f64 * share).ceil() as usize;
    let last = sorted.len().saturating_sub(1);
    sorted
        .get(place.saturating_sub(1).min(last))
        .copied()
        .unwrap_or(f64::NAN)
}

/// Points joined by lines on logarithmic axes, written as SVG.
pub fn plot(
    path: &Path,
    title: &str,
    (across, up): (&str, &str),
    lines: &[(&str, Vec<(f64, f64)>)],
) {
    let points = || lines.iter().flat_map(|(_, points)| points);
    let range = |of: fn(&(f64, f64)) -> f64| {
        let logs = || points().map(|point| of(point).max(1e-6).log10());
        let low = logs().fold(f64::INFINITY, f64::min).floor();
        (low, logs().fold(low + 1.0, f64::max).ceil())
    };
    let ((left, right), (bottom, top)) = (range(|point| point.0), range(|point| point.1));
    let (width, height, edge) = (640.0, 400.0, 60.0);
    let x = |value: f64| {
        edge + (value.max(1e-6).log10() - left) / (right - left) * (width - 2.0 * edge)
    };
    let y = |value: f64| {
        height - edge - (value.max(1e-6).log10() - bottom) / (top - bottom) * (height - 2.0 * edge)
    };
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" font-family=\"sans-serif\" font-size=\"12\">\
         <rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/><text x=\"{edge}\" y=\"24\" font-size=\"15\">{title}</text>\
         <text x=\"{}\" y=\"{}\" text-anchor=\"end\">{across}</text><text x=\"8\" y=\"{}\">{up}</text>",
        width - edge,
        height - 16.0,
        edge - 12.0
    );
    for power in left as i32..=right as i32 {
        let at = x(10_f64.powi(power));
        let _ = write!(
            svg,
            "<path d=\"M{at} {edge}V{}\" stroke=\"#ccc\"/><text x=\"{at}\" y=\"{}\" text-anchor=\"middle\">{}</text>",
            height - edge,
            height - edge + 16.0,
            10_f64.powi(power)
        );
    }
    for power in bottom as i32..=top as i32 {
        let at = y(10_f64.powi(power));
        let _ = write!(
            svg,
            "<path d=\"M{edge} {at}H{}\" stroke=\"#ccc\"/><text x=\"{}\" y=\"{}\" text-anchor=\"end\">{}</text>",
            width - edge,
            edge - 6.0,
            at + 4.0,
            10_f64.powi(power)
        );
    }
    let dashes = ["", "6 3", "2 3", "9 3 2 3"];
    for (place, (name, points)) in lines.iter().enumerate() {
        let path: Vec<String> = points
            .iter()
            .map(|point| format!("{:.1} {:.1}", x(point.0), y(point.1)))
            .collect();
        let dash = dashes[place % dashes.len()];
        let _ = write!(
            svg,
            "<path d=\"M{}\" fill=\"none\" stroke=\"#1d4f91\" stroke-width=\"2\" stroke-dasharray=\"{dash}\"/>",
            path.join("L")
        );
        if let Some(last) = points.last() {
            let _ = write!(
                svg,
                "<text x=\"{}\" y=\"{}\" text-anchor=\"end\">{name}</text>",
                x(last.0) - 4.0,
                y(last.1) - 6.0
            );
        }
    }
    svg.push_str("</svg>");
    match fs::write(path, svg) {
        Ok(()) => println!("drawn: {}", path.display()),
        Err(error) => println!("{} cannot be written: {error}", path.display()),
    }
}

/// A small generator for made-up problems (Marsaglia's xorshift).
pub struct Random(pub u64);

impl Random {
    pub fn below(&mut self, limit: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) % limit.max(1)
    }
}

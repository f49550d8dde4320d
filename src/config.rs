//! The settings of a running program: read once from arguments and environment, checked, then passed down.
//!
//! This is the only reader of the environment. Every option can be given as an argument or as the variable named beside it.

use std::net::{IpAddr, SocketAddr};
use std::path::PathBuf;
use std::time::Duration;

use clap::Args;

/// Where the workshop's file lies.
#[derive(Args, Clone, Debug)]
pub struct DataArgs {
    /// The workshop's file.
    #[arg(
        long,
        env = "SCRAPWRIGHT_DATA",
        default_value = "scrapwright.db",
        value_name = "FILE"
    )]
    pub data: PathBuf,
}

/// How the program is reached and how much it may use.
#[derive(Args, Clone, Debug)]
pub struct ServeArgs {
    /// Address and port to listen on.
    #[arg(
        long,
        env = "SCRAPWRIGHT_LISTEN",
        default_value = "127.0.0.1:8080",
        value_name = "ADDRESS:PORT"
    )]
    pub listen: SocketAddr,

    /// What members type to get here, where that differs (behind a reverse proxy): https://shop.example
    #[arg(long, env = "SCRAPWRIGHT_PUBLIC_URL", value_name = "URL")]
    pub public_url: Option<String>,

    /// A reverse proxy whose X-Forwarded-For is believed; may be given several times, or separated by commas.
    #[arg(
        long,
        env = "SCRAPWRIGHT_PROXY",
        value_name = "ADDRESS",
        value_delimiter = ','
    )]
    pub proxy: Vec<IpAddr>,

    /// How many matches and schedules may be solved at the same time.
    #[arg(long, env = "SCRAPWRIGHT_SOLVER_SLOTS", default_value_t = 2, value_name = "COUNT",
        value_parser = clap::value_parser!(u16).range(1..=256))]
    pub solver_slots: u16,

    /// The longest time that one solve may take, whatever its request says.
    #[arg(long, env = "SCRAPWRIGHT_SOLVER_SECONDS", default_value_t = 60, value_name = "SECONDS",
        value_parser = clap::value_parser!(u64).range(1..=3600))]
    pub solver_seconds: u64,

    /// How long a request may take; solves have their own limit.
    #[arg(long, env = "SCRAPWRIGHT_REQUEST_SECONDS", default_value_t = 30, value_name = "SECONDS",
        value_parser = clap::value_parser!(u64).range(1..=600))]
    pub request_seconds: u64,

    /// How long the program may take to finish what runs when it is asked to end.
    #[arg(long, env = "SCRAPWRIGHT_SHUTDOWN_SECONDS", default_value_t = 10, value_name = "SECONDS",
        value_parser = clap::value_parser!(u64).range(0..=600))]
    pub shutdown_seconds: u64,

    /// A folder for backups made by the running program; without it, it makes none.
    #[arg(long, env = "SCRAPWRIGHT_BACKUP_FOLDER", value_name = "FOLDER")]
    pub backup_folder: Option<PathBuf>,

    /// Hours between two of these backups.
    #[arg(long, env = "SCRAPWRIGHT_BACKUP_HOURS", default_value_t = 24, value_name = "HOURS",
        value_parser = clap::value_parser!(u64).range(1..=8760))]
    pub backup_hours: u64,

    /// How many of these backups are kept.
    #[arg(long, env = "SCRAPWRIGHT_BACKUP_KEEP", default_value_t = 14, value_name = "COUNT",
        value_parser = clap::value_parser!(u16).range(1..=10000))]
    pub backup_keep: u16,
}

/// How the program speaks of what it does.
#[derive(Args, Clone, Debug)]
pub struct LogArgs {
    /// Which log lines are written to standard error, as in `info` or `scrapwright=debug,sqlx=warn`.
    #[arg(
        long,
        env = "SCRAPWRIGHT_LOG",
        default_value = "info",
        value_name = "FILTER",
        global = true
    )]
    pub log: String,

    /// Write log lines as JSON.
    #[arg(long, env = "SCRAPWRIGHT_LOG_JSON", global = true)]
    pub log_json: bool,
}

/// The checked settings of a running program.
#[derive(Clone, Debug)]
pub struct Config {
    /// Where members reach the program, without a slash at the end.
    pub public_url: String,
    /// Members come through TLS: cookies are marked Secure.
    pub is_secure: bool,
    pub proxies: Vec<IpAddr>,
    pub solver_slots: usize,
    /// How long a caller waits for a solver slot.
    pub solver_wait: Duration,
    pub solver_longest: Duration,
    pub request_longest: Duration,
    pub shutdown_longest: Duration,
    pub backups: Option<Backups>,
}

/// Backups made by the running program.
#[derive(Clone, Debug)]
pub struct Backups {
    pub folder: PathBuf,
    pub every: Duration,
    pub keep: usize,
}

/// Why the settings cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum ConfigError {
    #[error("--public-url is {0:?}; must be http:// or https:// and a host, without a path")]
    PublicUrl(String),
    #[error("--backup-folder {} is no folder; make it first", .0.display())]
    BackupFolder(PathBuf),
}

impl Config {
    /// Checks what was given.
    ///
    /// # Errors
    /// The first setting that cannot be used, and what would be right.
    pub fn new(args: &ServeArgs) -> Result<Config, ConfigError> {
        let public_url = match &args.public_url {
            Some(url) => checked_url(url)?,
            None => format!("http://{}", args.listen),
        };
        let backups = match &args.backup_folder {
            Some(folder) if !folder.is_dir() => {
                return Err(ConfigError::BackupFolder(folder.clone()));
            }
            Some(folder) => Some(Backups {
                folder: folder.clone(),
                every: Duration::from_hours(args.backup_hours),
                keep: usize::from(args.backup_keep),
            }),
            None => None,
        };
        Ok(Config {
            is_secure: public_url.starts_with("https://"),
            public_url,
            proxies: args.proxy.clone(),
            solver_slots: usize::from(args.solver_slots),
            solver_wait: Duration::from_secs(2),
            solver_longest: Duration::from_secs(args.solver_seconds),
            request_longest: Duration::from_secs(args.request_seconds),
            shutdown_longest: Duration::from_secs(args.shutdown_seconds),
            backups,
        })
    }
}

impl Config {
    /// The settings of a program that listens nowhere: plain HTTP, one solver slot, no backups.
    #[must_use]
    pub fn for_tests() -> Config {
        Config {
            public_url: "http://workshop.test".into(),
            is_secure: false,
            proxies: Vec::new(),
            solver_slots: 1,
            solver_wait: Duration::from_millis(100),
            solver_longest: Duration::from_secs(20),
            request_longest: Duration::from_secs(20),
            shutdown_longest: Duration::from_secs(1),
            backups: None,
        }
    }
}

fn checked_url(url: &str) -> Result<String, ConfigError> {
    let wrong = || ConfigError::PublicUrl(url.to_owned());
    let trimmed = url.trim_end_matches('/');
    let uri: axum::http::Uri = trimmed.parse().map_err(|_| wrong())?;
    let has_scheme = matches!(uri.scheme_str(), Some("http" | "https"));
    let has_only_host = uri.path_and_query().is_none_or(|rest| rest.as_str() == "/");
    match uri.authority() {
        Some(host) if has_scheme && has_only_host && !host.as_str().contains('@') => {
            Ok(trimmed.to_ascii_lowercase())
        }
        _ => Err(wrong()),
    }
}

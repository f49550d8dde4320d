use clap::Parser as _;

fn main() -> std::process::ExitCode {
    scrapwright::commands::run(scrapwright::cli::Cli::parse())
}

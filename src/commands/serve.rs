//! `serve` and `demo`.

use std::net::SocketAddr;
use std::path::Path;
use std::process::ExitCode;

use anyhow::Context as _;
use tokio::net::TcpListener;
use tokio_util::sync::CancellationToken;

use crate::app::App;
use crate::app::demo::{self, DEMO_PASSWORD};
use crate::app::{claim, notices, upkeep};
use crate::config::{Config, DataArgs, ServeArgs};
use crate::store::Store;
use crate::web;

/// Serves the workshop until the program is asked to end.
pub(super) fn serve(data: &DataArgs, args: &ServeArgs) -> anyhow::Result<ExitCode> {
    Config::new(args)?;
    runtime()?.block_on(async {
        let store = Store::open(&data.data).await?;
        let listener = TcpListener::bind(args.listen).await.with_context(|| {
            format!("failed to listen on {}; choose another address with --listen", args.listen)
        })?;
        let app = App::new(config_at(&listener, args)?, store);
        if let Some(secret) = app.first_steward_link().await? {
            println!("This workshop has no steward yet. Whoever opens this link within a day becomes the first one; it works once:");
            println!("{}/join/{}", app.config.public_url, secret.reveal());
        }
        println!("Serving {} at {}", data.data.display(), app.config.public_url);
        answer(app, listener).await
    })
}

/// The settings with the address that is really listened on, which differs where port 0 was asked for.
fn config_at(listener: &TcpListener, args: &ServeArgs) -> anyhow::Result<Config> {
    let mut args = args.clone();
    args.listen = listener.local_addr()?;
    Ok(Config::new(&args)?)
}

/// Serves an invented workshop.
pub(super) fn demo(data: Option<&Path>, args: &ServeArgs) -> anyhow::Result<ExitCode> {
    runtime()?.block_on(async {
        let folder = std::env::temp_dir().join(format!("scrapwright-demo-{}", std::process::id()));
        let path = match data {
            Some(path) if path.exists() => {
                anyhow::bail!("{} exists; a demo wants a new file", path.display())
            }
            Some(path) => path.to_path_buf(),
            None => {
                std::fs::create_dir_all(&folder).context("failed to make a temporary folder")?;
                folder.join("demo.db")
            }
        };
        let listener = bind_or_next(args.listen).await?;
        let store = Store::open(&path).await?;
        let app = App::new(config_at(&listener, args)?, store);
        let members = demo::fill(&app).await?;
        println!("An invented workshop. These members may sign in, all with the password {DEMO_PASSWORD:?}:");
        for member in members {
            println!("  {:<8} {}, {}", member.sign_in_name, member.name, member.role.word());
        }
        println!("Serving an invented workshop at {}", app.config.public_url);
        let done = answer(app, listener).await;
        if data.is_none() {
            // What stays behind is only a temporary file.
            let _ = std::fs::remove_dir_all(&folder);
        }
        done
    })
}

pub(super) fn runtime() -> anyhow::Result<tokio::runtime::Runtime> {
    tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .context("failed to start the async runtime")
}

/// Listens on `address`, or on a free port if that one is taken.
async fn bind_or_next(address: SocketAddr) -> anyhow::Result<TcpListener> {
    match TcpListener::bind(address).await {
        Err(error) if error.kind() == std::io::ErrorKind::AddrInUse => {
            let listener = TcpListener::bind(SocketAddr::new(address.ip(), 0)).await?;
            println!(
                "Port {} is taken; using {} instead.",
                address.port(),
                listener.local_addr()?.port()
            );
            Ok(listener)
        }
        bound => bound.with_context(|| format!("failed to listen on {address}")),
    }
}

/// Answers requests until SIGTERM or ctrl-c, then finishes what runs within the limit.
async fn answer(app: App, listener: TcpListener) -> anyhow::Result<ExitCode> {
    let shutdown = app.shutdown.clone();
    tokio::spawn(wait_for_signal(shutdown.clone()));
    tokio::spawn(claim::keep_lapsing(app.clone()));
    tokio::spawn(upkeep::keep_up(app.clone()));
    tokio::spawn(notices::keep_telling(app.clone()));
    let serving = web::answer_connections(
        listener,
        web::router(app.clone()),
        app.config.request_longest,
        shutdown.clone(),
    );
    let limit = async {
        shutdown.cancelled().await;
        tokio::time::sleep(app.config.shutdown_longest).await;
    };
    tokio::select! {
        () = serving => {}
        () = limit => tracing::warn!("some requests were still running at the end of the shutdown limit"),
    }
    app.store.close().await;
    Ok(ExitCode::SUCCESS)
}

async fn wait_for_signal(shutdown: CancellationToken) {
    let interrupted = tokio::signal::ctrl_c();
    let mut terminated =
        match tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate()) {
            Ok(signal) => signal,
            Err(error) => {
                tracing::error!(%error, "SIGTERM cannot be watched");
                return;
            }
        };
    tokio::select! {
        _ = interrupted => {}
        _ = terminated.recv() => {}
    }
    tracing::info!("asked to end; finishing what runs");
    shutdown.cancel();
}

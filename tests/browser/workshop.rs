//! Workshops that are served on a free port of this machine, each from a file of its own.

use std::net::SocketAddr;
use std::path::Path;
use std::sync::OnceLock;

use jiff::Timestamp;
use scrapwright::app::{App, Clock, PasswordCost, Tokens, demo};
use scrapwright::config::Config;
use scrapwright::store::Store;
use scrapwright::web;
use tokio::net::TcpListener;

/// A Thursday evening at the invented workshop, while it is open.
fn thursday_evening() -> Timestamp {
    "2027-03-04T23:30:00Z".parse().unwrap()
}

/// A workshop that answers at `base` until it is dropped.
pub struct Workshop {
    pub base: String,
    pub app: App,
    _folder: tempfile::TempDir,
}

impl Drop for Workshop {
    fn drop(&mut self) {
        self.app.shutdown.cancel();
    }
}

impl Workshop {
    /// Nothing in it yet, not even a steward.
    pub async fn empty() -> Workshop {
        Workshop::serve(tempfile::tempdir().unwrap()).await
    }

    /// The demo, as it is made anew.
    pub async fn demo() -> Workshop {
        let folder = tempfile::tempdir().unwrap();
        tokio::task::block_in_place(|| {
            std::fs::copy(demo_file(), folder.path().join(FILE)).unwrap();
        });
        Workshop::serve(folder).await
    }

    async fn serve(folder: tempfile::TempDir) -> Workshop {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let base = format!("http://{}", listener.local_addr().unwrap());
        let app = app_on(&folder.path().join(FILE), &base).await;
        let service = web::router(app.clone()).into_make_service_with_connect_info::<SocketAddr>();
        let until = app.shutdown.clone().cancelled_owned();
        tokio::spawn(
            axum::serve(listener, service)
                .with_graceful_shutdown(until)
                .into_future(),
        );
        Workshop {
            base,
            app,
            _folder: folder,
        }
    }
}

const FILE: &str = "workshop.db";

async fn app_on(file: &Path, base: &str) -> App {
    let mut config = Config::for_tests();
    config.public_url = base.to_owned();
    config.solver_slots = 2;
    let store = Store::open(file).await.unwrap();
    let clock = Clock::standing_at(thursday_evening());
    App::with(config, store, clock, Tokens::Random, PasswordCost::Least)
}

/// The demo takes seconds to make, so all tests start from copies of one.
fn demo_file() -> &'static Path {
    static MADE: OnceLock<tempfile::TempDir> = OnceLock::new();
    let folder = MADE.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join(FILE);
        // The runtime of the test that comes first ends with that test.
        let made = std::thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_multi_thread()
                .enable_all()
                .build()
                .unwrap();
            runtime.block_on(async {
                let app = app_on(&file, "http://127.0.0.1").await;
                demo::fill(&app).await.unwrap();
                app.store.close().await;
            });
        });
        made.join().unwrap();
        folder
    });
    Box::leak(folder.path().join(FILE).into_boxed_path())
}

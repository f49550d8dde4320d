//! What the machine gives at best: a bare page without anything behind it, and a bare read by an index.

use std::path::Path;

use axum::Router;
use axum::extract::State;
use axum::routing::get;
use sqlx::SqlitePool;
use sqlx::sqlite::{SqliteConnectOptions, SqlitePoolOptions};

/// Serves until it is killed, after telling its address as the program does.
pub fn serve(file: &Path) {
    let runtime = tokio::runtime::Runtime::new().expect("a runtime");
    runtime.block_on(async {
        let options = SqliteConnectOptions::new().filename(file).read_only(true);
        let pool = SqlitePoolOptions::new()
            .max_connections(4)
            .connect_with(options)
            .await
            .expect("the file opens");
        let router = Router::new()
            .route("/hello", get(async || "hello"))
            .route("/read", get(read))
            .with_state(pool);
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0")
            .await
            .expect("a free port");
        let address = listener.local_addr().expect("a bound socket has one");
        println!("Serving bare at http://{address}");
        axum::serve(listener, router).await.expect("it serves");
    });
}

async fn read(State(pool): State<SqlitePool>) -> String {
    sqlx::query_scalar("select species from offcut where tag = 'L4321'")
        .fetch_one(&pool)
        .await
        .expect("the piece is there")
}

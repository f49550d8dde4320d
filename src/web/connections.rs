use std::convert::Infallible;
use std::net::SocketAddr;
use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::{ConnectInfo, Request};
use hyper_util::rt::{TokioExecutor, TokioIo, TokioTimer};
use hyper_util::server::conn::auto;
use hyper_util::service::TowerToHyperService;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::Semaphore;
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;
use tower::util::ServiceExt as _;

/// The most connections that are open at the same time; more wait until one ends. Below the usual limit of 1,024
/// open files of a process, so that the workshop's file can always be opened.
const MOST_CONNECTIONS: usize = 900;

/// How long to wait before listening again after the operating system refused a connection for want of something.
const BREATH: Duration = Duration::from_millis(200);

/// Answers the connections of `listener` until `shutdown`, then returns when what was begun is answered.
///
/// The head of a request must be there within `patience`, counted from when the connection was opened or its last answer was
/// sent, so nobody keeps a connection by saying nothing or by saying it slowly.
pub async fn answer_connections(
    listener: TcpListener,
    router: Router,
    patience: Duration,
    shutdown: CancellationToken,
) {
    let room = Arc::new(Semaphore::new(MOST_CONNECTIONS));
    let connections = TaskTracker::new();
    while let Some((stream, address)) = next(&listener, &room, &shutdown).await {
        let Ok(place) = Arc::clone(&room).try_acquire_owned() else {
            continue;
        };
        let (router, shutdown) = (router.clone(), shutdown.clone());
        connections.spawn(async move {
            answer(stream, address, router, patience, shutdown).await;
            drop(place);
        });
    }
    drop(listener);
    connections.close();
    connections.wait().await;
}

/// The next connection once there is room for it; nothing when the program was asked to end.
async fn next(
    listener: &TcpListener,
    room: &Semaphore,
    shutdown: &CancellationToken,
) -> Option<(TcpStream, SocketAddr)> {
    let accepted = async {
        loop {
            // Looked for only: the connection takes the place itself.
            drop(room.acquire().await);
            match listener.accept().await {
                Ok(accepted) => return accepted,
                Err(error) => {
                    tracing::warn!(%error, "a connection could not be taken");
                    tokio::time::sleep(BREATH).await;
                }
            }
        }
    };
    tokio::select! {
        accepted = accepted => Some(accepted),
        () = shutdown.cancelled() => None,
    }
}

async fn answer(
    stream: TcpStream,
    address: SocketAddr,
    router: Router,
    patience: Duration,
    shutdown: CancellationToken,
) {
    // Without it a small answer may wait for the acknowledgement of the one before; where it cannot be set, it does.
    let _ = stream.set_nodelay(true);
    let service = tower::service_fn(move |mut request: Request<_>| {
        request.extensions_mut().insert(ConnectInfo(address));
        let router = router.clone();
        async move {
            Ok::<_, Infallible>(
                router
                    .oneshot(request)
                    .await
                    .unwrap_or_else(|never| match never {}),
            )
        }
    });
    let mut http = auto::Builder::new(TokioExecutor::new()).http1_only();
    http.http1()
        .timer(TokioTimer::new())
        .header_read_timeout(patience);
    let connection = http.serve_connection(TokioIo::new(stream), TowerToHyperService::new(service));
    let mut connection = pin!(connection);
    // Whoever goes away in the middle, or is too slow, is told nothing more.
    tokio::select! {
        _ = connection.as_mut() => {}
        () = shutdown.cancelled() => {
            connection.as_mut().graceful_shutdown();
            let _ = connection.await;
        }
    }
}

//! The files of `static/`, in the program itself, under addresses that change with their content.

use std::sync::LazyLock;

use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use sha2::{Digest, Sha256};

use super::{Error, Path, Routes, Who};

struct Asset {
    name: &'static str,
    media_type: &'static str,
    bytes: &'static [u8],
    address: String,
}

static ASSETS: LazyLock<Vec<Asset>> = LazyLock::new(|| {
    [
        (
            "style.css",
            "text/css; charset=utf-8",
            &include_bytes!("../../static/style.css")[..],
        ),
        (
            "script.js",
            "text/javascript; charset=utf-8",
            &include_bytes!("../../static/script.js")[..],
        ),
        (
            "icon.svg",
            "image/svg+xml",
            &include_bytes!("../../static/icon.svg")[..],
        ),
    ]
    .into_iter()
    .map(|(name, media_type, bytes)| {
        let digest = Sha256::digest(bytes);
        let mark: String = digest[..6]
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect();
        Asset {
            name,
            media_type,
            bytes,
            address: format!("/static/{name}?v={mark}"),
        }
    })
    .collect()
});

/// Where a page finds an asset.
pub(super) fn address(name: &str) -> &'static str {
    ASSETS
        .iter()
        .find(|asset| asset.name == name)
        .map_or("/static/missing", |asset| asset.address.as_str())
}

pub(super) fn routes(routes: Routes) -> Routes {
    routes.get("/static/{name}", Who::Anyone, send)
}

async fn send(Path(name): Path<String>) -> Result<Response, Error> {
    let asset = ASSETS
        .iter()
        .find(|asset| asset.name == name)
        .ok_or_else(|| Error::NotFound("There is no such file.".into()))?;
    let headers = [
        (
            header::CONTENT_TYPE,
            HeaderValue::from_static(asset.media_type),
        ),
        // The address changes with the content.
        (
            header::CACHE_CONTROL,
            HeaderValue::from_static("public, max-age=31536000, immutable"),
        ),
    ];
    Ok((headers, asset.bytes).into_response())
}

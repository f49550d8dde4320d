//! Notices: changes posted to addresses that members gave, signed, tried again when they fail.
//!
//! A post must not become a way into the workshop's own network. So the name is looked up here,
//! every address it has must lie outside (unless a steward allowed otherwise), and the post goes to exactly these
//! addresses: a second look-up could answer differently. Redirects are not followed and no proxy is used.

use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};
use std::time::Duration;

use hmac::{Hmac, KeyInit as _, Mac as _};
use reqwest::Url;
use serde_json::{Value, json};
use sha2::Sha256;
use sqlx::SqliteConnection;

use super::{App, Secret};
use crate::store::change::{self, Change};
use crate::store::notice_address::{self, NoticeAddress};
use crate::store::{self, By, ChangeId, MemberId, NoticeAddressId, Refusal, workshop};

/// The longest address.
const LONGEST_URL: usize = 500;
/// The most addresses of one member.
const MOST_ADDRESSES: usize = 10;
/// The most changes of one post; the rest follow in the next.
const MOST_CHANGES: u32 = 100;
/// So long a post may take.
const PATIENCE: Duration = Duration::from_secs(10);
/// After so many failures in a row an address is turned off.
const MOST_FAILURES: u32 = 16;
/// How often the changes are looked through.
const BETWEEN: Duration = Duration::from_secs(15);

/// What members' own programs may hear of. Sign-in, tokens and the like stay in the house.
const TOLD_NOUNS: [&str; 15] = [
    "bin",
    "booking",
    "claim",
    "closure",
    "extra opening",
    "ledger",
    "lumber",
    "offcut",
    "photo",
    "project",
    "resource",
    "species",
    "species price",
    "weekly opening",
    "workshop",
];

/// The header with the signature: `sha256=` and the HMAC (RFC 2104) of time, a full stop and body in hexadecimal digits.
pub const SIGNATURE_HEADER: &str = "scrapwright-signature";
/// The header with the time of the post in seconds since 1970, which is signed too.
pub const TIME_HEADER: &str = "scrapwright-time";

/// Why an address cannot be told of anything.
#[derive(Debug, thiserror::Error)]
pub enum NoticeError {
    #[error("is no address; must be like https://shop.example/notices")]
    NoUrl,
    #[error("must be at most {LONGEST_URL} characters")]
    TooLong,
    #[error("is one too many; must be at most {MOST_ADDRESSES} addresses, so forget one first")]
    TooMany,
    #[error(
        "lies inside the workshop's own network; a steward must allow that in the settings first"
    )]
    Inside,
    #[error("has a host that cannot be found")]
    NoHost,
    #[error("did not take the post")]
    NotTaken(#[source] reqwest::Error),
    #[error("answered {0}")]
    Answered(u16),
    #[error("failed to read the changes")]
    Store(#[from] store::Error),
    #[error("failed to keep the address")]
    Refused(#[from] Refusal),
}

/// Reads an address that somebody typed. Whether it lies inside is known only when its name is looked up, so that is
/// done before each post.
pub fn read_url(text: &str) -> Result<Url, NoticeError> {
    let text = text.trim();
    if text.len() > LONGEST_URL {
        return Err(NoticeError::TooLong);
    }
    let url = Url::parse(text).map_err(|_| NoticeError::NoUrl)?;
    let is_plain = matches!(url.scheme(), "http" | "https")
        && url.has_host()
        && url.username().is_empty()
        && url.password().is_none();
    if is_plain {
        Ok(url)
    } else {
        Err(NoticeError::NoUrl)
    }
}

/// Has a member's address told of changes from now on, and gives the key that signs each post.
///
/// # Errors
/// The member has as many addresses as one may have.
pub async fn add(
    app: &App,
    db: &mut SqliteConnection,
    by: By,
    member: MemberId,
    url: &Url,
) -> Result<(NoticeAddressId, Secret), NoticeError> {
    let before = notice_address::list_of_member(&mut *db, member)
        .await
        .map_err(Refusal::from)?;
    if before.len() >= MOST_ADDRESSES {
        return Err(NoticeError::TooMany);
    }
    let key = app.tokens.secret();
    let id = notice_address::create(db, by, member, url.as_str(), key.reveal()).await?;
    Ok((id, key))
}

/// Whether an address is not one of the public internet (IANA IPv4 and IPv6 Special-Purpose Address Registries,
/// RFC 6890 and its updates).
pub fn is_inside(address: IpAddr) -> bool {
    match address {
        IpAddr::V4(address) => is_inside_v4(address),
        IpAddr::V6(address) => is_inside_v6(address),
    }
}

fn is_inside_v4(address: Ipv4Addr) -> bool {
    let [a, b, c, _] = address.octets();
    address.is_private()
        || address.is_loopback()
        || address.is_link_local()
        || address.is_multicast()
        || address.is_broadcast()
        || address.is_documentation()
        || a == 0
        // Shared with the carrier (RFC 6598).
        || (a == 100 && (64..128).contains(&b))
        // Protocol assignments (RFC 6890) and benchmarks (RFC 2544).
        || (a == 192 && b == 0 && c == 0)
        || (a == 198 && (18..20).contains(&b))
        // Reserved (RFC 1112).
        || a >= 240
}

fn is_inside_v6(address: Ipv6Addr) -> bool {
    let segments = address.segments();
    // Addresses that carry an IPv4 one: mapped, translated (RFC 6052), 6to4 (RFC 3056).
    let carried = match segments {
        [0, 0, 0, 0, 0, 0xffff, high, low] | [0x64, 0xff9b, 0, 0, 0, 0, high, low] => {
            Some((high, low))
        }
        [0x2002, high, low, ..] => Some((high, low)),
        _ => None,
    };
    if let Some((high, low)) = carried {
        return is_inside_v4(Ipv4Addr::from((u32::from(high) << 16) | u32::from(low)));
    }
    // Only 2000::/3 is given out as global unicast; parts of it are for documents and tunnels.
    let is_global = segments[0] & 0xe000 == 0x2000;
    !is_global
        || (segments[0] == 0x2001 && segments[1] < 0x0200)
        || (segments[0] == 0x2001 && segments[1] == 0x0db8)
        || (segments[0] == 0x3fff && segments[1] < 0x1000)
}

/// Signs a body as [`SIGNATURE_HEADER`] says.
pub fn sign(secret: &str, time: i64, body: &[u8]) -> String {
    let mut mac =
        Hmac::<Sha256>::new_from_slice(secret.as_bytes()).expect("HMAC takes a key of any length");
    mac.update(time.to_string().as_bytes());
    mac.update(b".");
    mac.update(body);
    let digits: String = mac
        .finalize()
        .into_bytes()
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect();
    format!("sha256={digits}")
}

/// Whether members' own programs may hear of a change.
pub fn is_told(change: &Change) -> bool {
    TOLD_NOUNS.contains(&change.noun.as_str())
}

/// A change as other programs get it.
pub fn print_change(change: &Change) -> Value {
    json!({
        "id": change.id,
        "at": change.at.to_string(),
        "verb": change.verb,
        "noun": change.noun,
        "noun_id": change.noun_id,
        "detail": change.detail,
    })
}

fn body_of(workshop: &str, changes: &[Change]) -> Vec<u8> {
    let listed: Vec<Value> = changes.iter().map(print_change).collect();
    json!({"workshop": workshop, "changes": listed})
        .to_string()
        .into_bytes()
}

/// The addresses of a host, if a post may go there.
async fn reachable(url: &Url, inside_is_allowed: bool) -> Result<Vec<SocketAddr>, NoticeError> {
    let host = url
        .host_str()
        .ok_or(NoticeError::NoUrl)?
        .trim_matches(['[', ']']);
    let port = url.port_or_known_default().ok_or(NoticeError::NoUrl)?;
    let found = tokio::net::lookup_host((host, port))
        .await
        .map_err(|_| NoticeError::NoHost)?;
    let addresses: Vec<SocketAddr> = found.collect();
    if addresses.is_empty() {
        return Err(NoticeError::NoHost);
    }
    if !inside_is_allowed && addresses.iter().any(|address| is_inside(address.ip())) {
        return Err(NoticeError::Inside);
    }
    Ok(addresses)
}

async fn post(app: &App, address: &NoticeAddress, changes: &[Change]) -> Result<(), NoticeError> {
    let workshop = workshop::get(app.store.read()).await?;
    let url = read_url(&address.url)?;
    let addresses = reachable(&url, workshop.settings.notices_inside).await?;
    // Somebody else may have installed one before; any will do.
    let _ = rustls::crypto::ring::default_provider().install_default();
    let host = url.host_str().unwrap_or_default().to_owned();
    let client = reqwest::Client::builder()
        .resolve_to_addrs(&host, &addresses)
        .redirect(reqwest::redirect::Policy::none())
        .no_proxy()
        .timeout(PATIENCE)
        .build()
        .map_err(NoticeError::NotTaken)?;
    let body = body_of(&workshop.name, changes);
    let time = app.clock.now().as_second();
    let answer = client
        .post(url)
        .header("content-type", "application/json")
        .header(TIME_HEADER, time)
        .header(SIGNATURE_HEADER, sign(&address.secret, time, &body))
        .body(body)
        .send()
        .await
        .map_err(NoticeError::NotTaken)?;
    if answer.status().is_success() {
        Ok(())
    } else {
        Err(NoticeError::Answered(answer.status().as_u16()))
    }
}

/// When an address that failed may be tried again: after a minute, then twice as long each time, up to half a day.
fn is_due(address: &NoticeAddress, now: jiff::Timestamp) -> bool {
    const MINUTE: i64 = 60;
    const HALF_A_DAY: i64 = 12 * 3600;
    let Some(tried_at) = address.tried_at.filter(|_| address.failures > 0) else {
        return true;
    };
    let doublings = (address.failures - 1).min(16);
    let wait = (MINUTE << doublings).min(HALF_A_DAY);
    now.as_second() - tried_at.as_second() >= wait
}

/// Posts to every active address what it has not been told yet, and gives the number of posts that arrived.
pub async fn tell(app: &App) -> Result<usize, NoticeError> {
    let mut told = 0;
    for address in notice_address::list_behind(app.store.read()).await? {
        let now = app.clock.now();
        if !is_due(&address, now) {
            continue;
        }
        let news = change::list_after(app.store.read(), address.told_to, MOST_CHANGES).await?;
        let newest = news.last().map_or(address.told_to, |change| change.id);
        let listed: Vec<Change> = news.into_iter().filter(is_told).collect();
        if listed.is_empty() {
            note_told(app, &address, newest).await?;
            continue;
        }
        match post(app, &address, &listed).await {
            Ok(()) => {
                note_told(app, &address, newest).await?;
                told += 1;
            }
            Err(NoticeError::Store(error)) => return Err(error.into()),
            Err(error) => {
                tracing::info!(address = address.id.0, %error, "a notice was not delivered");
                let mut db = app.store.begin().await?;
                notice_address::note_failed(&mut db, address.id, now, MOST_FAILURES).await?;
                db.commit().await?;
            }
        }
    }
    Ok(told)
}

async fn note_told(
    app: &App,
    address: &NoticeAddress,
    newest: ChangeId,
) -> Result<(), NoticeError> {
    let mut db = app.store.begin().await?;
    notice_address::note_told(&mut db, address.id, newest, app.clock.now()).await?;
    Ok(db.commit().await?)
}

/// Tells of changes until the program is asked to end.
pub async fn keep_telling(app: App) {
    loop {
        let told = tokio::select! {
            told = tell(&app) => told,
            () = app.shutdown.cancelled() => return,
        };
        if let Err(error) = told {
            tracing::warn!(%error, "notices could not be posted");
        }
        tokio::select! {
            () = tokio::time::sleep(BETWEEN) => {}
            () = app.shutdown.cancelled() => return,
        }
    }
}

use std::net::{IpAddr, Ipv4Addr, SocketAddr};

use axum::extract::{ConnectInfo, FromRequestParts, Request, State};
use axum::http::request::Parts;
use axum::http::{HeaderMap, Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::{Error, Who, cookies, idempotency};
use crate::app::{App, Asker, Caller, network};
use crate::store::api_token::Scope;
use crate::store::{self, MemberId};

/// What a route's requests must pass.
#[derive(Clone)]
pub(super) struct Gate {
    pub app: App,
    pub who: Who,
    pub scope: Scope,
    /// Its answer needs a solver.
    pub solves: bool,
}

/// Who calls, once the gate has looked.
#[derive(Clone, Debug)]
pub(super) struct Known(pub Option<Caller>);

/// Finds out who calls, lets them pass or not, and limits how long the answer may take.
pub(super) async fn pass(State(gate): State<Gate>, mut request: Request, next: Next) -> Response {
    let caller = match identify(&gate.app, request.uri().path(), request.headers()).await {
        Ok(caller) => caller,
        Err(error) => return error.into_response(),
    };
    let known = Known(caller.clone());
    request.extensions_mut().insert(known.clone());
    if let Err(error) = check(&gate, caller.as_ref()).await {
        return with(known, error.into_response());
    }
    let mut longest = gate.app.config.request_longest;
    if gate.solves {
        longest += gate.app.config.solver_wait + gate.app.config.solver_longest;
    }
    let answer = idempotency::once(&gate.app, caller.as_ref(), request, next);
    let response = tokio::time::timeout(longest, answer)
        .await
        .unwrap_or_else(|_| Error::TooSlow.into_response());
    with(known, response)
}

fn with(known: Known, mut response: Response) -> Response {
    response.extensions_mut().insert(known);
    response
}

async fn check(gate: &Gate, caller: Option<&Caller>) -> Result<(), Error> {
    let Some(caller) = caller else {
        let may = match gate.who {
            Who::Anyone => true,
            Who::Visitor => {
                store::workshop::get(gate.app.store.read())
                    .await?
                    .settings
                    .guests_may_look
            }
            Who::Member | Who::Owner | Who::Steward => false,
        };
        return if may {
            Ok(())
        } else {
            Err(Error::SignInNeeded)
        };
    };
    if !caller.has_scope(gate.scope) {
        return Err(Error::Forbidden(format!(
            "This token's scope does not reach; it must be at least {}.",
            gate.scope.word()
        )));
    }
    if gate.who == Who::Steward && !caller.is_steward() {
        return Err(Error::Forbidden("Only stewards may do this.".into()));
    }
    Ok(())
}

/// A browser shows a session, a script a token; a token that is not known is an error, for a script would not notice.
async fn identify(app: &App, path: &str, headers: &HeaderMap) -> Result<Option<Caller>, Error> {
    if path.starts_with("/api/")
        && let Some(value) = headers.get(header::AUTHORIZATION)
    {
        let token = value
            .to_str()
            .ok()
            .and_then(|text| text.split_once(' '))
            .filter(|(scheme, _)| scheme.eq_ignore_ascii_case("bearer"))
            .map(|(_, token)| token.trim());
        let Some(token) = token else {
            return Err(Error::SignInNeeded);
        };
        let caller = app.caller_by_api_token(token).await?;
        return if caller.is_some() {
            Ok(caller)
        } else {
            Err(Error::SignInNeeded)
        };
    }
    match cookies::session(app, headers) {
        Some(token) => Ok(app.caller_by_session(&token).await?),
        None => Ok(None),
    }
}

fn known(parts: &Parts) -> Option<&Caller> {
    parts
        .extensions
        .get::<Known>()
        .and_then(|known| known.0.as_ref())
}

/// The member who calls, if somebody is signed in.
#[derive(Clone, Debug)]
pub struct MaybeMember(pub Option<Caller>);

/// The member who calls.
#[derive(Clone, Debug)]
pub struct Member(pub Caller);

/// The steward who calls.
#[derive(Clone, Debug)]
pub struct Steward(pub Caller);

impl Member {
    /// The member's id.
    #[must_use]
    pub fn id(&self) -> MemberId {
        self.0.member.id
    }

    #[must_use]
    pub fn is_steward(&self) -> bool {
        self.0.is_steward()
    }

    /// Lets the owner and stewards pass.
    ///
    /// # Errors
    /// [`Error::Forbidden`] for everybody else.
    pub fn require_owner(&self, owner: MemberId) -> Result<(), Error> {
        if self.0.member.id == owner || self.0.is_steward() {
            return Ok(());
        }
        Err(Error::Forbidden(
            "Only the member whose it is, or a steward, may do this.".into(),
        ))
    }
}

impl FromRequestParts<App> for MaybeMember {
    type Rejection = std::convert::Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &App) -> Result<Self, Self::Rejection> {
        Ok(MaybeMember(known(parts).cloned()))
    }
}

impl FromRequestParts<App> for Member {
    type Rejection = Error;

    async fn from_request_parts(parts: &mut Parts, _: &App) -> Result<Self, Error> {
        known(parts).cloned().map(Member).ok_or(Error::SignInNeeded)
    }
}

impl FromRequestParts<App> for Steward {
    type Rejection = Error;

    async fn from_request_parts(parts: &mut Parts, _: &App) -> Result<Self, Error> {
        match known(parts) {
            Some(caller) if caller.is_steward() => Ok(Steward(caller.clone())),
            Some(_) => Err(Error::Forbidden("Only stewards may do this.".into())),
            None => Err(Error::SignInNeeded),
        }
    }
}

/// The address that a request comes from, as far as it can be believed.
#[derive(Clone, Copy, Debug)]
pub struct ClientAddress(pub IpAddr);

impl FromRequestParts<App> for ClientAddress {
    type Rejection = std::convert::Infallible;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, Self::Rejection> {
        // Without a connection the request was made inside the program, by a test.
        let peer = parts
            .extensions
            .get::<ConnectInfo<SocketAddr>>()
            .map_or(IpAddr::V4(Ipv4Addr::LOCALHOST), |ConnectInfo(peer)| {
                peer.ip()
            });
        Ok(ClientAddress(believed(
            &app.config.proxies,
            peer,
            &parts.headers,
        )))
    }
}

impl FromRequestParts<App> for Asker {
    type Rejection = std::convert::Infallible;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, Self::Rejection> {
        if let Some(caller) = known(parts) {
            return Ok(Asker::Member(caller.member.id));
        }
        let ClientAddress(address) = ClientAddress::from_request_parts(parts, app).await?;
        Ok(Asker::Guest(network(address)))
    }
}

/// Each proxy appends whom it heard from, so the list is read from its end, as long as the writer is a known proxy.
fn believed(proxies: &[IpAddr], peer: IpAddr, headers: &HeaderMap) -> IpAddr {
    let mut address = peer.to_canonical();
    let listed: Vec<&str> = headers
        .get_all("x-forwarded-for")
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .collect();
    for before in listed.iter().rev() {
        if !proxies.contains(&address) {
            break;
        }
        match before.trim().parse::<IpAddr>() {
            Ok(heard) => address = heard.to_canonical(),
            Err(_) => break,
        }
    }
    address
}

/// Whether a method only reads.
pub(super) fn is_safe(method: &Method) -> bool {
    matches!(*method, Method::GET | Method::HEAD | Method::OPTIONS)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_known_proxies_are_believed() {
        let proxy: IpAddr = "10.0.0.1".parse().unwrap();
        let stranger: IpAddr = "203.0.113.7".parse().unwrap();
        let mut headers = HeaderMap::new();
        headers.insert(
            "x-forwarded-for",
            "192.0.2.66, 198.51.100.4".parse().unwrap(),
        );
        assert_eq!(believed(&[proxy], stranger, &headers), stranger);
        let client: IpAddr = "198.51.100.4".parse().unwrap();
        assert_eq!(believed(&[proxy], proxy, &headers), client);
        assert_eq!(believed(&[], proxy, &headers), proxy);
    }
}

//! Addresses that are told of changes, as their member keeps them.

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use super::projects::by;
use crate::app::App;
use crate::app::notices::{self, NoticeError, SIGNATURE_HEADER, TIME_HEADER};
use crate::store::notice_address::{self, NoticeAddress};
use crate::store::{MemberId, NoticeAddressId};
use crate::web::{
    Error, Flash, Member, Path, Routes, Shell, Typed, Who, page, page_again, see_other,
};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/me/notices", Who::Member, show)
        .post("/me/notices", Who::Member, create)
        .post("/me/notices/{id}/on", Who::Member, turn_on)
        .post("/me/notices/{id}/off", Who::Member, turn_off)
        .post("/me/notices/{id}/remove", Who::Member, remove)
}

#[derive(Template)]
#[template(path = "notices.html")]
struct NoticesPage {
    shell: Shell,
    addresses: Vec<AddressLine>,
    typed: Typed,
}

struct AddressLine {
    id: NoticeAddressId,
    url: String,
    state: String,
    is_good: bool,
    is_active: bool,
    since: String,
}

impl AddressLine {
    fn new(address: &NoticeAddress) -> AddressLine {
        let state = match (address.is_active, address.failures) {
            (true, 0) => "told of changes".to_owned(),
            (true, 1) => "did not take the last post; it is tried again".to_owned(),
            (true, failures) => {
                format!("did not take the last {failures} posts; it is tried again")
            }
            (false, 0) => "turned off".to_owned(),
            (false, failures) => format!("turned off after {failures} posts in vain"),
        };
        AddressLine {
            id: address.id,
            url: address.url.clone(),
            state,
            is_good: address.is_active && address.failures == 0,
            is_active: address.is_active,
            since: address.created_at.strftime("%-d %B %Y").to_string(),
        }
    }
}

#[derive(Template)]
#[template(path = "notice_made.html")]
struct NoticeMadePage {
    shell: Shell,
    url: String,
    secret: String,
    signature_header: &'static str,
    time_header: &'static str,
}

/// An address of this member.
pub(in crate::web) async fn own_address(
    app: &App,
    member: MemberId,
    id: NoticeAddressId,
) -> Result<NoticeAddress, Error> {
    notice_address::find(app.store.read(), id)
        .await?
        .filter(|address| address.member == member)
        .ok_or_else(|| Error::NotFound("You have no such address.".into()))
}

async fn addresses(app: &App, member: MemberId) -> Result<Vec<AddressLine>, Error> {
    let found = notice_address::list_of_member(app.store.read(), member).await?;
    Ok(found.iter().map(AddressLine::new).collect())
}

async fn show(State(app): State<App>, shell: Shell, member: Member) -> Result<Response, Error> {
    page(&NoticesPage {
        shell,
        addresses: addresses(&app, member.id()).await?,
        typed: Typed::default(),
    })
}

async fn create(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    mut typed: Typed,
) -> Result<Response, Error> {
    let url = typed.take("url", notices::read_url);
    let made = match url {
        Some(url) => {
            let mut db = app.store.begin().await?;
            match notices::add(&app, &mut db, by(&app, &member), member.id(), &url).await {
                Ok((_, secret)) => {
                    db.commit().await?;
                    Some((url, secret))
                }
                Err(NoticeError::Refused(error)) => return Err(error.into()),
                Err(error) => {
                    typed.refuse("url", error.to_string());
                    None
                }
            }
        }
        None => None,
    };
    let Some((url, secret)) = made else {
        return page_again(&NoticesPage {
            shell,
            addresses: addresses(&app, member.id()).await?,
            typed,
        });
    };
    page(&NoticeMadePage {
        shell,
        url: url.to_string(),
        secret: secret.reveal().to_owned(),
        signature_header: SIGNATURE_HEADER,
        time_header: TIME_HEADER,
    })
}

async fn turn(
    app: &App,
    member: &Member,
    id: NoticeAddressId,
    is_active: bool,
) -> Result<(), Error> {
    own_address(app, member.id(), id).await?;
    let mut db = app.store.begin().await?;
    notice_address::set_active(&mut db, by(app, member), id, is_active).await?;
    Ok(db.commit().await?)
}

async fn turn_on(
    State(app): State<App>,
    member: Member,
    Path(id): Path<NoticeAddressId>,
) -> Result<Response, Error> {
    turn(&app, &member, id, true).await?;
    let flash = Flash::done("The address is told of changes from now on.");
    Ok(see_other("/me/notices").saying(flash).response(&app))
}

async fn turn_off(
    State(app): State<App>,
    member: Member,
    Path(id): Path<NoticeAddressId>,
) -> Result<Response, Error> {
    turn(&app, &member, id, false).await?;
    let flash = Flash::done("The address is told of nothing any more.");
    Ok(see_other("/me/notices").saying(flash).response(&app))
}

async fn remove(
    State(app): State<App>,
    member: Member,
    Path(id): Path<NoticeAddressId>,
) -> Result<Response, Error> {
    own_address(&app, member.id(), id).await?;
    let mut db = app.store.begin().await?;
    notice_address::remove(&mut db, by(&app, &member), id).await?;
    db.commit().await?;
    let flash = Flash::done("The address is forgotten.");
    Ok(see_other("/me/notices").saying(flash).response(&app))
}

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use super::sign_in::signed_in;
use crate::app::{App, JoinError, LinkError, PasswordError};
use crate::store::invitation::{Invitation, Purpose};
use crate::web::{ClientAddress, Error, Path, Routes, Shell, Typed, Who, line, page, page_again};

#[derive(Template)]
#[template(path = "join.html")]
struct JoinPage {
    shell: Shell,
    typed: Typed,
    token: String,
    title: &'static str,
    is_reset: bool,
    is_steward: bool,
    password_hint: String,
}

impl JoinPage {
    fn new(shell: Shell, typed: Typed, token: String, link: &Invitation) -> JoinPage {
        JoinPage {
            shell,
            typed,
            token,
            title: match link.purpose {
                Purpose::FirstSteward => "Open the workshop",
                Purpose::Invitation => "Join the workshop",
                Purpose::Reset => "Choose a new password",
            },
            is_reset: link.purpose == Purpose::Reset,
            is_steward: link.role == crate::store::Role::Steward,
            password_hint: format!(
                "At least {} characters; a few words are easy to keep in mind.",
                crate::app::SHORTEST_PASSWORD
            ),
        }
    }
}

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/join/{token}", Who::Anyone, show)
        .post("/join/{token}", Who::Anyone, join)
}

async fn open(app: &App, address: std::net::IpAddr, token: &str) -> Result<Invitation, Error> {
    app.limits.count_address(address).map_err(Error::TooMany)?;
    app.open_link(token).await.map_err(ended)
}

fn ended(error: LinkError) -> Error {
    match error {
        LinkError::Ended => Error::NotFound(
            "This link was used before or has ended. Ask a steward for a new one.".into(),
        ),
        LinkError::Failed(error) => error.into(),
    }
}

async fn show(
    State(app): State<App>,
    shell: Shell,
    ClientAddress(address): ClientAddress,
    Path(token): Path<String>,
) -> Result<Response, Error> {
    let link = open(&app, address, &token).await?;
    let typed = Typed::filled([("name", link.name.clone())]);
    page(&JoinPage::new(shell, typed, token, &link))
}

async fn join(
    State(app): State<App>,
    shell: Shell,
    ClientAddress(address): ClientAddress,
    Path(token): Path<String>,
    mut typed: Typed,
) -> Result<Response, Error> {
    let link = open(&app, address, &token).await?;
    let is_reset = link.purpose == Purpose::Reset;
    let name = if is_reset {
        Some(String::new())
    } else {
        typed.take("name", |text| line(text, 120))
    };
    let sign_in_name = if is_reset {
        Some(String::new())
    } else {
        typed.take("sign_in_name", |text| line(text, 120))
    };
    if typed.exact("password") != typed.exact("password_again") {
        typed.refuse(
            "password_again",
            "differs from the password above; must be the same",
        );
    }
    let (Some(name), Some(sign_in_name), true) = (name, sign_in_name, typed.is_fine()) else {
        return page_again(&JoinPage::new(shell, typed, token, &link));
    };
    let password = typed.exact("password").to_owned();
    let joined = if is_reset {
        app.reset_password(&token, &password).await
    } else {
        app.join(&token, &name, &sign_in_name, &password)
            .await
            .map(|(_, secret)| secret)
    };
    match joined {
        Ok(secret) => Ok(signed_in(&app, &secret, "/")),
        Err(error) => {
            match error {
                JoinError::NameTaken => typed.refuse("sign_in_name", error.to_string()),
                JoinError::Password(
                    error @ (PasswordError::TooShort(_) | PasswordError::TooLong),
                ) => typed.refuse("password", error.to_string()),
                JoinError::Password(error) => return Err(error.into()),
                JoinError::Link(error) => return Err(ended(error)),
            }
            page_again(&JoinPage::new(shell, typed, token, &link))
        }
    }
}

//! What members keep of themselves: name, units, days, password, browsers, tokens.

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use super::sign_in::signed_in;
use crate::app::{App, PasswordChangeError, PasswordError};
use crate::store::api_token::{ApiToken, Scope};
use crate::store::member::MemberEdit;
use crate::store::{self, ApiTokenId, Role, api_token, calendar_link, member, session};
use crate::units::{InchFraction, LengthFormat};
use crate::web::{
    ClientAddress, Error, Flash, Member, Path, Routes, Shell, Typed, Who, line, page, page_again,
    see_other,
};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/me", Who::Member, show)
        .post("/me", Who::Member, update)
        .post("/me/password", Who::Member, change_password)
        .post("/me/tokens", Who::Member, create_token)
        .post("/me/tokens/{id}/end", Who::Member, end_token)
}

const UNITS: [(&str, &str); 4] = [
    ("in 16", "inches, to 1/16"),
    ("in 32", "inches, to 1/32"),
    ("in 64", "inches, to 1/64"),
    ("mm", "millimetres"),
];

const DAYS: [(&str, &str); 7] = [
    ("1", "Mon"),
    ("2", "Tue"),
    ("3", "Wed"),
    ("4", "Thu"),
    ("5", "Fri"),
    ("6", "Sat"),
    ("7", "Sun"),
];

#[derive(Template)]
#[template(path = "me.html")]
struct MePage {
    shell: Shell,
    version: i64,
    about: Typed,
    password: Typed,
    token: Typed,
    sign_in_name: String,
    password_hint: String,
    units: [(&'static str, &'static str); 4],
    days: [(&'static str, &'static str); 7],
    scopes: Vec<(&'static str, &'static str)>,
    n_sessions: i64,
    tokens: Vec<TokenLine>,
    has_calendar: bool,
}

struct TokenLine {
    id: ApiTokenId,
    name: String,
    scope: &'static str,
    made: String,
    used: String,
}

impl TokenLine {
    fn new(token: &ApiToken) -> TokenLine {
        let day = |at: jiff::Timestamp| at.strftime("%-d %B %Y").to_string();
        TokenLine {
            id: token.id,
            name: token.name.clone(),
            scope: token.scope.word(),
            made: day(token.created_at),
            used: token.used_at.map_or_else(|| "never".to_owned(), day),
        }
    }
}

#[derive(Template)]
#[template(path = "token_made.html")]
struct TokenMadePage {
    shell: Shell,
    name: String,
    scope: &'static str,
    secret: String,
    address: String,
}

impl MePage {
    async fn new(app: &App, shell: Shell, caller: &store::Member) -> Result<MePage, Error> {
        let tokens = api_token::list(app.store.read(), caller.id).await?;
        let mut scopes = vec![
            ("read", "read: look at what you see"),
            ("write", "write: do what you do"),
        ];
        if caller.role == Role::Steward {
            scopes.push(("steward", "steward: also what stewards do"));
        }
        let mut about: Vec<(&str, String)> = vec![
            ("name", caller.name.clone()),
            ("units", units_word(caller.lengths)),
        ];
        for ((value, _), comes) in DAYS.iter().zip(caller.own_days) {
            if comes {
                about.push(("days", (*value).to_owned()));
            }
        }
        Ok(MePage {
            shell,
            version: caller.version,
            about: Typed::filled(about),
            password: Typed::default(),
            token: Typed::filled([("scope", "read".to_owned())]),
            sign_in_name: caller.sign_in_name.clone(),
            password_hint: format!("At least {} characters.", crate::app::SHORTEST_PASSWORD),
            units: UNITS,
            days: DAYS,
            scopes,
            n_sessions: session::count(app.store.read(), caller.id, app.clock.now()).await?,
            tokens: tokens.iter().map(TokenLine::new).collect(),
            has_calendar: calendar_link::is_there(app.store.read(), caller.id).await?,
        })
    }
}

fn units_word(lengths: LengthFormat) -> String {
    match lengths {
        LengthFormat::Millimetres => "mm".to_owned(),
        LengthFormat::Inches(fraction) => format!("in {}", fraction.denominator()),
    }
}

fn parse_units(word: &str) -> Result<LengthFormat, &'static str> {
    let wrong = "must be inches or millimetres";
    match word.split_once(' ') {
        None if word == "mm" => Ok(LengthFormat::Millimetres),
        Some(("in", denominator)) => denominator
            .parse()
            .ok()
            .and_then(InchFraction::from_denominator)
            .map(LengthFormat::Inches)
            .ok_or(wrong),
        _ => Err(wrong),
    }
}

async fn show(
    State(app): State<App>,
    shell: Shell,
    Member(caller): Member,
) -> Result<Response, Error> {
    page(&MePage::new(&app, shell, &caller.member).await?)
}

async fn update(
    State(app): State<App>,
    shell: Shell,
    Member(caller): Member,
    mut typed: Typed,
) -> Result<Response, Error> {
    let name = typed.take("name", |text| line(text, 120));
    let lengths = typed.take("units", parse_units);
    let version = typed.take("version", str::parse::<i64>);
    let mut own_days = [false; 7];
    for (comes, (value, _)) in own_days.iter_mut().zip(DAYS) {
        *comes = typed.has("days", value);
    }
    let (Some(name), Some(lengths), Some(version)) = (name, lengths, version) else {
        let form = MePage::new(&app, shell, &caller.member).await?;
        return page_again(&MePage {
            about: typed,
            ..form
        });
    };
    let mut db = app.store.begin().await?;
    let edit = MemberEdit {
        name: &name,
        lengths,
        own_days,
    };
    if !member::update(&mut db, caller.member.id, version, &edit, app.clock.now()).await? {
        return Err(Error::Stale);
    }
    db.commit().await?;
    Ok(see_other("/me")
        .saying(Flash::done("It is kept."))
        .response(&app))
}

async fn change_password(
    State(app): State<App>,
    shell: Shell,
    ClientAddress(address): ClientAddress,
    Member(caller): Member,
    mut typed: Typed,
) -> Result<Response, Error> {
    if typed.exact("password") != typed.exact("password_again") {
        typed.refuse(
            "password_again",
            "differs from the new password; must be the same",
        );
    } else {
        let (present, new) = (typed.exact("present"), typed.exact("password"));
        match app
            .change_password(address, &caller.member, present, new)
            .await
        {
            Ok(secret) => return Ok(signed_in(&app, &secret, "/me")),
            Err(PasswordChangeError::TooMany(wait)) => return Err(Error::TooMany(wait)),
            Err(PasswordChangeError::Failed(error)) => return Err(error.into()),
            Err(error @ PasswordChangeError::WrongPresent) => {
                typed.refuse("present", error.to_string());
            }
            Err(PasswordChangeError::Password(
                error @ (PasswordError::TooShort(_) | PasswordError::TooLong),
            )) => typed.refuse("password", error.to_string()),
            Err(PasswordChangeError::Password(error)) => return Err(error.into()),
        }
    }
    let form = MePage::new(&app, shell, &caller.member).await?;
    page_again(&MePage {
        password: typed,
        ..form
    })
}

async fn create_token(
    State(app): State<App>,
    shell: Shell,
    Member(caller): Member,
    mut typed: Typed,
) -> Result<Response, Error> {
    let name = typed.take("token_name", |text| line(text, 120));
    let scope = typed.take("scope", |word| {
        Scope::from_word(word)
            .filter(|scope| *scope < Scope::Steward || caller.is_steward())
            .ok_or("must be one of those offered")
    });
    let (Some(name), Some(scope)) = (name, scope) else {
        let form = MePage::new(&app, shell, &caller.member).await?;
        return page_again(&MePage {
            token: typed,
            ..form
        });
    };
    let (_, secret) = app.make_api_token(caller.member.id, &name, scope).await?;
    page(&TokenMadePage {
        shell,
        name,
        scope: scope.word(),
        secret: secret.reveal().to_owned(),
        address: app.config.public_url.clone(),
    })
}

async fn end_token(
    State(app): State<App>,
    Member(caller): Member,
    Path(id): Path<ApiTokenId>,
) -> Result<Response, Error> {
    let mut db = app.store.begin().await?;
    if !api_token::end(&mut db, id, caller.member.id, app.clock.now()).await? {
        return Err(Error::NotFound("You have no such token.".into()));
    }
    db.commit().await?;
    Ok(see_other("/me")
        .saying(Flash::done("The token opens nothing any more."))
        .response(&app))
}

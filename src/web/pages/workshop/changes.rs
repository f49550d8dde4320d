//! The audit trail: who changed what, for stewards.

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use serde::Deserialize;
use utoipa::IntoParams;

use crate::app::App;
use crate::store::change::{self, Search, Signed};
use crate::store::{MemberId, member, workshop};
use crate::web::paging::percent_encoded;
use crate::web::{Error, Query, Routes, Section, Shell, Typed, Who, page, page_again, words};

pub(super) fn routes(routes: Routes) -> Routes {
    routes.get("/workshop/changes", Who::Steward, list)
}

/// Rows on one page.
const LIMIT: u32 = 50;

/// Which changes are wanted; each may be empty.
#[derive(Deserialize, Default, IntoParams)]
#[serde(default)]
#[into_params(parameter_in = Query)]
pub(in crate::web) struct Asked {
    /// The number of the member who made it.
    member: String,
    /// The kind of thing that was changed.
    #[param(example = "offcut")]
    noun: String,
    /// The number of that thing, or whatever else names it; with `noun` only.
    #[param(example = "17")]
    noun_id: String,
    #[param(ignore)]
    before: String,
}

impl Asked {
    fn typed(&self) -> Typed {
        Typed::filled([
            ("member", self.member.clone()),
            ("noun", self.noun.clone()),
            ("noun_id", self.noun_id.clone()),
        ])
    }
}

/// What to look for; what cannot be read stands beside its field.
fn search(typed: &mut Typed) -> Search {
    let member = typed.take_if_any("member", |text| {
        text.parse::<MemberId>()
            .map_err(|_| "is not chosen; must be one of the list")
    });
    let given = |text: &str| Some(text.trim().to_owned()).filter(|text| !text.is_empty());
    let noun = given(typed.text("noun"));
    let noun_id = given(typed.text("noun_id"));
    if noun_id.is_some() && noun.is_none() {
        typed.refuse(
            "noun",
            "is not chosen; must be, as the number alone could be of any thing",
        );
    }
    Search {
        member: member.flatten(),
        noun,
        noun_id,
        ..Search::default()
    }
}

/// What a script looks for.
///
/// # Errors
/// [`Error::Wrong`] names what cannot be looked for.
pub(in crate::web) fn filter(asked: &Asked) -> Result<Search, Error> {
    let mut typed = asked.typed();
    let search = search(&mut typed);
    if typed.is_fine() {
        Ok(search)
    } else {
        Err(Error::Wrong(typed.flaws()))
    }
}

#[derive(Template)]
#[template(path = "workshop/changes.html")]
struct ChangesPage {
    shell: Shell,
    typed: Typed,
    members: Vec<(String, String)>,
    nouns: Vec<(String, String)>,
    is_search: bool,
    /// The page of the only thing that is looked for.
    page_of: Option<String>,
    rows: Vec<RowLine>,
    /// The query of the next page.
    next: Option<String>,
}

struct RowLine {
    when: String,
    who: String,
    verb: String,
    noun: String,
    noun_id: String,
    /// The query of everything that happened to this thing.
    query: String,
    detail: String,
}

async fn list(
    State(app): State<App>,
    shell: Shell,
    Query(asked): Query<Asked>,
) -> Result<Response, Error> {
    let mut typed = asked.typed();
    let search = Search {
        before: asked.before.parse().ok(),
        limit: LIMIT + 1,
        ..search(&mut typed)
    };
    let is_fine = typed.is_fine();
    let mut found = if is_fine {
        change::list_newest(app.store.read(), &search).await?
    } else {
        Vec::new()
    };
    let has_more = found.len() > LIMIT as usize;
    found.truncate(LIMIT as usize);
    let zone = workshop::get(app.store.read()).await?.time_zone;
    let rows = found.iter().map(|signed| {
        let Signed {
            change,
            member_name,
        } = signed;
        RowLine {
            when: words::moment_of_year(&change.at.to_zoned_datetime(zone.clone())),
            who: member_name
                .clone()
                .unwrap_or_else(|| "the program".to_owned()),
            verb: change.verb.clone(),
            noun: change.noun.clone(),
            noun_id: change.noun_id.clone(),
            query: query(&[("noun", &change.noun), ("noun_id", &change.noun_id)]),
            detail: change.detail.clone(),
        }
    });
    let pairs: Vec<(&str, &str)> = typed.pairs().collect();
    let last = found.last().filter(|_| has_more);
    let next = last.map(|last| {
        let before = last.change.id.to_string();
        query(&[&pairs[..], &[("before", &before)]].concat())
    });
    let options = |first: &str, rest: Vec<(String, String)>| {
        let mut options = vec![(String::new(), first.to_owned())];
        options.extend(rest);
        options
    };
    let members = member::list(app.store.read()).await?;
    let nouns = change::list_nouns(app.store.read()).await?;
    let template = ChangesPage {
        members: options(
            "anybody",
            members
                .into_iter()
                .map(|member| (member.id.to_string(), member.name))
                .collect(),
        ),
        nouns: options(
            "anything",
            nouns.into_iter().map(|noun| (noun.clone(), noun)).collect(),
        ),
        is_search: pairs.iter().any(|(_, value)| !value.is_empty()),
        page_of: page_of(&search),
        rows: rows.collect(),
        next,
        typed,
        shell: shell.at(Section::Workshop),
    };
    if is_fine {
        page(&template)
    } else {
        page_again(&template)
    }
}

/// Where a thing that is never removed has its page.
fn page_of(search: &Search) -> Option<String> {
    let place = match search.noun.as_deref()? {
        "offcut" => "offcuts",
        "project" => "projects",
        _ => return None,
    };
    let number: i64 = search.noun_id.as_ref()?.parse().ok()?;
    Some(format!("/{place}/{number}"))
}

fn query(pairs: &[(&str, &str)]) -> String {
    let given: Vec<String> = pairs
        .iter()
        .filter(|(_, value)| !value.is_empty())
        .map(|(name, value)| format!("{name}={}", percent_encoded(value)))
        .collect();
    given.join("&")
}

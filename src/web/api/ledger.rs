//! The wood ledger for scripts.

use axum::extract::State;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::routes;

use crate::app::App;
use crate::store::ledger::{self, LedgerRow, Search, Sums, SumsOf};
use crate::store::{LedgerId, MemberId};
use crate::web::pages::ledger::{Asked, filter};
use crate::web::{Error, Json, Member, Paged, Paging, PagingParams, Query, Routes, Who};
use crate::wire::FieldError;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Member, routes!(list_ledger))
        .api(Who::Member, routes!(sum_ledger))
        .api(Who::Member, routes!(sum_ledger_by))
}

/// One entry. Pieces and volumes are what came (+) or went (−).
#[derive(Serialize, ToSchema)]
struct EntryBody {
    id: i64,
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    /// `added`, `remainder`, `corrected`, `cut` or `gone`.
    #[schema(example = "cut")]
    what: &'static str,
    /// Nothing where the entry was read from an earlier book.
    offcut: Option<i64>,
    #[schema(example = "A017")]
    tag: String,
    #[schema(example = "hard maple")]
    species: String,
    pieces: i64,
    volume_mm3: i64,
    /// Of a cut piece: what went into strips.
    strips_mm3: i64,
    /// Of a cut piece: what was neither strip nor remainder.
    waste_mm3: i64,
    /// Who entered it, and for which project; only your own where the workshop hides who used what.
    member: Option<String>,
    project: Option<i64>,
    project_name: Option<String>,
    why: String,
}

impl EntryBody {
    fn new(row: &LedgerRow, only: Option<MemberId>) -> EntryBody {
        let is_shown = only.is_none_or(|only| row.member == Some(only));
        EntryBody {
            id: row.id.0,
            at: row.at,
            what: row.what.word(),
            offcut: row.offcut.map(|offcut| offcut.0),
            tag: row.tag.clone(),
            species: row.species.clone(),
            pieces: row.pieces,
            volume_mm3: row.volume_mm3,
            strips_mm3: row.strips_mm3,
            waste_mm3: row.waste_mm3,
            member: row.member_name.clone().filter(|_| is_shown),
            project: row.project.map(|project| project.0).filter(|_| is_shown),
            project_name: row.project_name.clone().filter(|_| is_shown),
            why: row.why.clone(),
        }
    }
}

#[derive(Serialize, ToSchema)]
struct EntriesBody {
    items: Vec<EntryBody>,
    /// The cursor of the next page.
    next: Option<String>,
}

/// What came, went and was made of it; each is positive.
#[derive(Serialize, ToSchema)]
struct SumsBody {
    /// Brought in; corrections are counted here, whichever sign they have.
    added_mm3: i64,
    cut_mm3: i64,
    /// Of that, back to the bins.
    remainders_mm3: i64,
    /// Of that, into strips of projects: wood kept from the fire.
    strips_mm3: i64,
    /// Of that, neither.
    waste_mm3: i64,
    /// Gone without being cut for a project.
    gone_mm3: i64,
}

impl SumsBody {
    fn new(sums: &Sums) -> SumsBody {
        SumsBody {
            added_mm3: sums.added_mm3,
            cut_mm3: sums.cut_mm3,
            remainders_mm3: sums.remainders_mm3,
            strips_mm3: sums.strips_mm3,
            waste_mm3: sums.waste_mm3,
            gone_mm3: sums.gone_mm3,
        }
    }
}

#[derive(Serialize, ToSchema)]
struct SumsOfBody {
    /// A month such as `2027-03`, a species, or a member's name.
    #[schema(example = "2027-03")]
    of: String,
    #[serde(flatten)]
    sums: SumsBody,
}

#[derive(Serialize, ToSchema)]
struct SumsByBody {
    items: Vec<SumsOfBody>,
}

/// Entries, the newest first.
#[utoipa::path(get, path = "/api/v1/ledger", tag = "ledger", security(("token" = [])), params(Asked, PagingParams),
    responses((status = 200, body = EntriesBody), (status = 422)))]
async fn list_ledger(
    State(app): State<App>,
    Member(caller): Member,
    Query(asked): Query<Asked>,
    paging: Paging,
) -> Result<Paged<EntryBody>, Error> {
    let (search, only) = filter(&app, &caller, &asked).await?;
    let search = Search {
        before: paging.after::<LedgerId>()?,
        limit: paging.limit + 1,
        ..search
    };
    let rows = ledger::list(app.store.read(), &search).await?;
    let bodies = rows.iter().map(|row| EntryBody::new(row, only)).collect();
    Ok(paging.page(bodies, |entry| entry.id.to_string()))
}

/// The sums of all entries that the filter lets through.
#[utoipa::path(get, path = "/api/v1/ledger/sums", tag = "ledger", security(("token" = [])), params(Asked),
    responses((status = 200, body = SumsBody), (status = 422)))]
async fn sum_ledger(
    State(app): State<App>,
    Member(caller): Member,
    Query(asked): Query<Asked>,
) -> Result<Json<SumsBody>, Error> {
    let (search, _) = filter(&app, &caller, &asked).await?;
    let mut db = app.store.read().acquire().await?;
    let sums = ledger::sum(&mut db, &search).await?;
    Ok(Json(SumsBody::new(&sums)))
}

#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct By {
    /// `month`, `species` or `member`.
    #[param(example = "month")]
    by: String,
    /// The first month, such as `2027-01`.
    #[serde(default)]
    from: String,
    /// The last month.
    #[serde(default)]
    to: String,
}

/// Sums by month, species, or the member whose projects used the wood.
#[utoipa::path(get, path = "/api/v1/ledger/sums-by", tag = "ledger", security(("token" = [])), params(By),
    responses((status = 200, body = SumsByBody), (status = 403), (status = 422)))]
async fn sum_ledger_by(
    State(app): State<App>,
    Member(caller): Member,
    Query(asked): Query<By>,
) -> Result<Json<SumsByBody>, Error> {
    let mut flaws = Vec::new();
    for (field, month) in [("from", &asked.from), ("to", &asked.to)] {
        if !month.is_empty() && format!("{month}-01").parse::<jiff::civil::Date>().is_err() {
            flaws.push(FieldError {
                pointer: format!("/{field}"),
                detail: format!("is {month:?}; must be a month like 2027-03"),
            });
        }
    }
    if !["month", "species", "member"].contains(&asked.by.as_str()) {
        flaws.push(FieldError {
            pointer: "/by".to_owned(),
            detail: format!("is {:?}; must be month, species or member", asked.by),
        });
    }
    if !flaws.is_empty() {
        return Err(Error::Wrong(flaws));
    }
    let from = if asked.from.is_empty() {
        "0001-01"
    } else {
        &asked.from
    };
    let to = if asked.to.is_empty() {
        "9999-12"
    } else {
        &asked.to
    };
    let read = app.store.read();
    let sums: Vec<SumsOf> = match asked.by.as_str() {
        "month" => ledger::sum_by_month(read, from, to).await?,
        "species" => ledger::sum_by_species(read, from, to).await?,
        _ => {
            let (_, only) = filter(&app, &caller, &Asked::default()).await?;
            if only.is_some() {
                return Err(Error::Forbidden(
                    "The workshop does not show who used how much of the shared wood.".into(),
                ));
            }
            ledger::sum_by_member(read, from, to).await?
        }
    };
    let items = sums.iter().map(|sums| SumsOfBody {
        of: sums.of.clone(),
        sums: SumsBody::new(&sums.sums),
    });
    Ok(Json(SumsByBody {
        items: items.collect(),
    }))
}

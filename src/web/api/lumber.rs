//! Boards that can be bought, for scripts.

use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use utoipa_axum::routes;

use super::{read, title};
use crate::app::App;
use crate::app::species::Woods;
use crate::store::LumberId;
use crate::store::lumber::{self, Lumber, NewLumber, Sale};
use crate::units::{Money, Volume};
use crate::web::{Error, IfMatch, Json, JsonBody, Path, Routes, Steward, Version, Who};
use crate::wire::Node;
use crate::wire::length::to_json;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Visitor, routes!(list_lumber))
        .api(Who::Steward, routes!(create_lumber))
        .api(Who::Visitor, routes!(find_lumber))
        .api(Who::Steward, routes!(update_lumber))
        .api(Who::Steward, routes!(remove_lumber))
}

/// A board that anybody can buy again and again. Lengths are millimetres.
#[derive(Serialize, ToSchema)]
struct LumberBody {
    id: i64,
    #[schema(example = "Walnut 1 × 4, 6 ft")]
    name: String,
    #[schema(example = "black walnut")]
    species: String,
    #[schema(value_type = f64, example = 1828.8)]
    length: Value,
    #[schema(value_type = f64, example = 88.9)]
    width: Value,
    #[schema(value_type = f64, example = 19.05)]
    thickness: Value,
    /// Of what it is sold by.
    #[schema(example = 24.5)]
    price: f64,
    /// `board`, or `board foot` as hardwood is tallied.
    #[schema(example = "board")]
    price_per: &'static str,
    /// The thickness as the trade calls it, in quarters of an inch, where the tally counts with it.
    quarters: Option<u8>,
    /// The yard cuts it and sells whole feet of it.
    sold_in_parts: bool,
    /// What the tally of the whole board counts, in board feet.
    #[schema(example = 2.0)]
    tallied_board_feet: f64,
    #[schema(example = 24.5)]
    whole_price: f64,
    /// By volume.
    #[schema(example = 18.67)]
    price_per_board_foot: f64,
    square_ends: bool,
    straight_edges: bool,
    version: i64,
}

impl LumberBody {
    fn new(row: &Lumber) -> LumberBody {
        let board = &row.board;
        let board_feet = Volume::of(board.length, board.width, board.thickness).board_feet();
        LumberBody {
            id: row.id.0,
            name: board.name.clone(),
            species: board.species.clone(),
            length: to_json(board.length),
            width: to_json(board.width),
            thickness: to_json(board.thickness),
            price: board.price.units(),
            price_per: match board.sale {
                Sale::Whole => "board",
                Sale::BoardFoot { .. } => "board foot",
            },
            quarters: match board.sale {
                Sale::BoardFoot { quarters, .. } => quarters,
                Sale::Whole => None,
            },
            sold_in_parts: matches!(board.sale, Sale::BoardFoot { in_parts: true, .. }),
            tallied_board_feet: board.tally(board.length).board_feet(),
            whole_price: board.whole_price().units(),
            price_per_board_foot: Money::from_units_rounded(
                board.whole_price().units() / board_feet,
            )
            .units(),
            square_ends: board.square_ends,
            straight_edges: board.straight_edges,
            version: row.version,
        }
    }
}

#[derive(Serialize, ToSchema)]
struct LumberList {
    items: Vec<LumberBody>,
}

/// What a steward says of a board, as it really is: a dressed 1 × 4 is 3 1/2 by 3/4 in.
#[derive(ToSchema)]
#[expect(
    dead_code,
    reason = "documents what `draft` reads by hand, so that every flaw is told at once"
)]
struct LumberDraft {
    #[schema(example = "Walnut 1 × 4, 6 ft")]
    name: String,
    #[schema(example = "black walnut")]
    species: String,
    #[schema(value_type = String, example = "6 ft")]
    length: Value,
    #[schema(value_type = String, example = "3 1/2 in")]
    width: Value,
    #[schema(value_type = String, example = "3/4 in")]
    thickness: Value,
    /// Of one board, or of a board foot.
    #[schema(example = 24.5)]
    price: f64,
    /// `board` unless given, or `board foot`.
    #[schema(example = "board foot")]
    price_per: Option<String>,
    /// Only of a board sold by the board foot: 8 for 8/4. Left out, the thickness itself is counted.
    #[schema(example = 8)]
    quarters: Option<u8>,
    /// Only of a board sold by the board foot.
    sold_in_parts: Option<bool>,
    square_ends: Option<bool>,
    straight_edges: Option<bool>,
}

fn draft(node: &Node<'_>, woods: &Woods) -> Option<NewLumber> {
    let body = node.object(&[
        "name",
        "species",
        "length",
        "width",
        "thickness",
        "price",
        "price_per",
        "quarters",
        "sold_in_parts",
        "square_ends",
        "straight_edges",
    ])?;
    let name = body.required("name", |field| title(&field, 80));
    let species = body.required("species", |field| {
        let text = field.text()?;
        match (woods.flaw(text), woods.find(text)) {
            (None, Some(wood)) => Some(wood.name.clone()),
            (flaw, _) => field.refuse(flaw.unwrap_or_else(|| "is no wood that is known".into())),
        }
    });
    let length = body.required("length", |field| field.positive_length());
    let width = body.required("width", |field| field.positive_length());
    let thickness = body.required("thickness", |field| field.positive_length());
    let price = body.required("price", |field| field.money());
    let by_foot = body.optional("price_per", |field| {
        field.one_of(&[("board", false), ("board foot", true)])
    });
    let by_foot = by_foot.unwrap_or(false);
    let quarters = body.optional("quarters", |field| {
        let quarters = field.whole(4..=32)?;
        if by_foot {
            u8::try_from(quarters).ok()
        } else {
            field.refuse("is only for a board sold by the board foot; must be left out")
        }
    });
    let in_parts = body.optional("sold_in_parts", |field| {
        let in_parts = field.boolean()?;
        if in_parts && !by_foot {
            return field.refuse("is only for a board sold by the board foot; must be false");
        }
        Some(in_parts)
    });
    let square_ends = body.optional("square_ends", |field| field.boolean());
    let straight_edges = body.optional("straight_edges", |field| field.boolean());
    Some(NewLumber {
        name: name?,
        species: species?,
        length: length?,
        width: width?,
        thickness: thickness?,
        price: price?,
        sale: if by_foot {
            Sale::BoardFoot {
                quarters,
                in_parts: in_parts.unwrap_or(false),
            }
        } else {
            Sale::Whole
        },
        square_ends: square_ends.unwrap_or(false),
        straight_edges: straight_edges.unwrap_or(false),
    })
}

async fn answer(app: &App, id: LumberId) -> Result<Response, Error> {
    let row = lumber::find(app.store.read(), id)
        .await?
        .ok_or_else(|| Error::NotFound("There is no such board on the list.".into()))?;
    Ok((Version(row.version).etag(), Json(LumberBody::new(&row))).into_response())
}

/// Boards that can be bought, by species and name.
#[utoipa::path(get, path = "/api/v1/lumber", tag = "workshop", security((), ("token" = [])),
    responses((status = 200, body = LumberList)))]
async fn list_lumber(State(app): State<App>) -> Result<Json<LumberList>, Error> {
    let boards = lumber::list(app.store.read()).await?;
    Ok(Json(LumberList {
        items: boards.iter().map(LumberBody::new).collect(),
    }))
}

/// Put a board on the list; a match buys one only where the bins cannot give the strips.
#[utoipa::path(post, path = "/api/v1/lumber", tag = "workshop", security(("token" = [])), request_body = LumberDraft,
    responses((status = 201, body = LumberBody)))]
async fn create_lumber(
    State(app): State<App>,
    Steward(caller): Steward,
    body: JsonBody,
) -> Result<Response, Error> {
    let woods = Woods::load(app.store.read()).await?;
    let board = read(&body, |node| draft(&node, &woods))?;
    let mut db = app.store.begin().await?;
    let id = lumber::create(&mut db, app.by(&caller), &board).await?;
    db.commit().await?;
    Ok((
        StatusCode::CREATED,
        [(header::LOCATION, format!("/api/v1/lumber/{id}"))],
        answer(&app, id).await?,
    )
        .into_response())
}

/// One board.
#[utoipa::path(get, path = "/api/v1/lumber/{id}", tag = "workshop", security((), ("token" = [])),
    params(("id" = i64, Path, example = 1)), responses((status = 200, body = LumberBody)))]
async fn find_lumber(State(app): State<App>, Path(id): Path<LumberId>) -> Result<Response, Error> {
    answer(&app, id).await
}

/// Change a board; the whole of it is written.
#[utoipa::path(put, path = "/api/v1/lumber/{id}", tag = "workshop", security(("token" = [])), request_body = LumberDraft,
    params(("id" = i64, Path, example = 1), ("If-Match" = String, Header, description = "The ETag that was read")),
    responses((status = 200, body = LumberBody), (status = 409)))]
async fn update_lumber(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(id): Path<LumberId>,
    IfMatch(Version(version)): IfMatch,
    body: JsonBody,
) -> Result<Response, Error> {
    let woods = Woods::load(app.store.read()).await?;
    let board = read(&body, |node| draft(&node, &woods))?;
    answer(&app, id).await?;
    let mut db = app.store.begin().await?;
    lumber::update(&mut db, app.by(&caller), id, version, &board).await?;
    db.commit().await?;
    answer(&app, id).await
}

/// Take a board off the list. Projects that have bought it keep it.
#[utoipa::path(delete, path = "/api/v1/lumber/{id}", tag = "workshop", security(("token" = [])),
    params(("id" = i64, Path, example = 1), ("If-Match" = String, Header, description = "The ETag that was read")),
    responses((status = 204, description = "It is off the list")))]
async fn remove_lumber(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(id): Path<LumberId>,
    IfMatch(Version(version)): IfMatch,
) -> Result<StatusCode, Error> {
    answer(&app, id).await?;
    let mut db = app.store.begin().await?;
    lumber::remove(&mut db, app.by(&caller), id, version).await?;
    db.commit().await?;
    Ok(StatusCode::NO_CONTENT)
}

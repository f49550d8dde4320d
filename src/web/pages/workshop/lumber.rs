//! Boards that can be bought, offered to every match beside the pieces in the bins.

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use super::form::{Field, FormPage, Group, version_of};
use crate::app::App;
use crate::app::species::Woods;
use crate::store::lumber::{self, Lumber, NewLumber, Sale};
use crate::store::{LumberId, Refusal};
use crate::units::{Length, LengthFormat, Money, Volume};
use crate::web::pages::bins::species_options;
use crate::web::{
    Error, Flash, Path, Routes, Section, Shell, Steward, Typed, Who, line, page, see_other,
};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/workshop/lumber", Who::Visitor, list)
        .get("/workshop/lumber/new", Who::Steward, new)
        .post("/workshop/lumber", Who::Steward, create)
        .get("/workshop/lumber/{id}", Who::Steward, edit)
        .post("/workshop/lumber/{id}", Who::Steward, update)
        .post("/workshop/lumber/{id}/remove", Who::Steward, remove)
}

const LIST: &str = "/workshop/lumber";

#[derive(Template)]
#[template(path = "workshop/lumber.html")]
struct ListPage {
    shell: Shell,
    boards: Vec<BoardLine>,
}

struct BoardLine {
    id: LumberId,
    name: String,
    species: String,
    size: String,
    dressed: &'static str,
    price: String,
    per_board_foot: String,
}

impl BoardLine {
    fn new(row: &Lumber, lengths: LengthFormat) -> BoardLine {
        let board = &row.board;
        let board_feet = Volume::of(board.length, board.width, board.thickness).board_feet();
        BoardLine {
            id: row.id,
            name: board.name.clone(),
            species: board.species.clone(),
            size: format!(
                "{} × {} × {}",
                lengths.show(board.length),
                lengths.show(board.width),
                lengths.show(board.thickness)
            ),
            dressed: match (board.straight_edges, board.square_ends) {
                (true, true) => "edges and ends",
                (true, false) => "edges",
                (false, true) => "ends",
                (false, false) => "rough",
            },
            price: match board.sale {
                Sale::Whole => board.price.to_string(),
                Sale::BoardFoot { in_parts, .. } => format!(
                    "{} for {:.2} board feet{}",
                    board.whole_price(),
                    board.tally(board.length).board_feet(),
                    if in_parts {
                        ", whole feet of it too"
                    } else {
                        ""
                    }
                ),
            },
            per_board_foot: match board.sale {
                Sale::Whole => Money::from_units_rounded(board.price.units() / board_feet),
                Sale::BoardFoot { .. } => board.price,
            }
            .to_string(),
        }
    }
}

async fn list(State(app): State<App>, shell: Shell) -> Result<Response, Error> {
    let boards = lumber::list(app.store.read()).await?;
    let lengths = shell.lengths();
    page(&ListPage {
        boards: boards
            .iter()
            .map(|board| BoardLine::new(board, lengths))
            .collect(),
        shell: shell.at(Section::Workshop),
    })
}

fn sold_by() -> Vec<(String, String)> {
    [
        ("board", "the board"),
        (BOARD_FOOT, "the board foot, as tallied"),
    ]
    .map(|(value, words)| (value.to_owned(), words.to_owned()))
    .to_vec()
}

const BOARD_FOOT: &str = "board foot";

fn groups(woods: &Woods) -> Vec<Group> {
    vec![Group {
        fields: vec![
            Field::line("name", "Name")
                .hint("As it stands on the list of the yard: Walnut 1 × 4, 6 ft."),
            Field::choice("species", "Species", species_options(woods)),
            Field::line("length", "Length"),
            Field::line("width", "Width").hint("As it really is: a dressed 1 × 4 is 3 1/2 in."),
            Field::line("thickness", "Thickness").hint("A dressed 1 × 4 is 3/4 in."),
            Field::choice("price_per", "Sold by", sold_by()),
            Field::decimal("price", "Price").hint("Of one board, or of one board foot."),
            Field::whole("quarters", "Quarters of an inch, as it is sold")
                .optional()
                .hint("Only by the board foot: 4 for 4/4, 8 for 8/4. Empty: the thickness above is tallied, under an inch as an inch."),
            Field::tick("sold_in_parts", "The yard cuts it and sells whole feet of it")
                .hint("Only by the board foot."),
            Field::tick("straight_edges", "Both edges are straight already")
                .hint("A dressed board: no edge has to be cut straight first."),
            Field::tick("square_ends", "Both ends are square already"),
        ],
        ..Group::default()
    }]
}

fn fill(row: &Lumber, lengths: LengthFormat) -> Typed {
    let board = &row.board;
    let mut values = vec![
        ("version", row.version.to_string()),
        ("name", board.name.clone()),
        ("species", board.species.clone()),
        ("length", lengths.show_exact(board.length)),
        ("width", lengths.show_exact(board.width)),
        ("thickness", lengths.show_exact(board.thickness)),
        ("price", board.price.to_string()),
    ];
    if let Sale::BoardFoot { quarters, in_parts } = board.sale {
        values.push(("price_per", BOARD_FOOT.to_owned()));
        values.extend(quarters.map(|quarters| ("quarters", quarters.to_string())));
        if in_parts {
            values.push(("sold_in_parts", "yes".to_owned()));
        }
    }
    if board.straight_edges {
        values.push(("straight_edges", "yes".to_owned()));
    }
    if board.square_ends {
        values.push(("square_ends", "yes".to_owned()));
    }
    Typed::filled(values)
}

fn read(typed: &mut Typed, woods: &Woods, lengths: LengthFormat) -> Option<NewLumber> {
    let size = |text: &str| Length::parse_positive(text, Some(lengths.unit()));
    let name = typed.take("name", |text| line(text, 80));
    let species = typed.take("species", |text| match woods.flaw(text) {
        Some(flaw) => Err(flaw),
        None => Ok(woods
            .find(text)
            .map_or_else(String::new, |wood| wood.name.clone())),
    });
    let length = typed.take("length", size);
    let width = typed.take("width", size);
    let thickness = typed.take("thickness", size);
    let price = typed.take("price", Money::parse);
    let quarters = typed.take_if_any("quarters", |text| {
        let quarters = text.parse::<u8>().ok();
        quarters
            .filter(|quarters| (4..=32).contains(quarters))
            .ok_or("is no thickness of the trade; must be a whole number from 4 to 32")
    });
    let in_parts = typed.is_ticked("sold_in_parts");
    let by_foot = typed.text("price_per") == BOARD_FOOT;
    if !by_foot && quarters.flatten().is_some() {
        typed.refuse(
            "quarters",
            "is only for boards sold by the board foot; must be empty",
        );
    }
    if !by_foot && in_parts {
        typed.refuse("sold_in_parts", "is only for boards sold by the board foot");
    }
    if !typed.is_fine() {
        return None;
    }
    Some(NewLumber {
        name: name?,
        species: species?,
        length: length?,
        width: width?,
        thickness: thickness?,
        price: price?,
        sale: if by_foot {
            Sale::BoardFoot {
                quarters: quarters?,
                in_parts,
            }
        } else {
            Sale::Whole
        },
        square_ends: typed.is_ticked("square_ends"),
        straight_edges: typed.is_ticked("straight_edges"),
    })
}

fn new_page(shell: Shell, woods: &Woods, typed: Typed) -> FormPage {
    FormPage::new(shell, "New board to buy", groups(woods), typed)
        .lead("A board that anybody can buy again and again. A match buys one only where the bins cannot give the strips.")
        .between(LIST, LIST)
}

fn edit_page(shell: Shell, woods: &Woods, id: LumberId, typed: Typed) -> FormPage {
    FormPage::new(shell, "Board to buy", groups(woods), typed)
        .between(format!("{LIST}/{id}"), LIST)
        .removal(
            format!("{LIST}/{id}/remove"),
            "Remove it from the list? Projects that have bought it keep it.",
        )
}

async fn new(State(app): State<App>, shell: Shell) -> Result<Response, Error> {
    let woods = Woods::load(app.store.read()).await?;
    new_page(shell, &woods, Typed::default()).show()
}

async fn create(
    State(app): State<App>,
    shell: Shell,
    Steward(caller): Steward,
    mut typed: Typed,
) -> Result<Response, Error> {
    let woods = Woods::load(app.store.read()).await?;
    if let Some(board) = read(&mut typed, &woods, shell.lengths()) {
        let mut db = app.store.begin().await?;
        match lumber::create(&mut db, app.by(&caller), &board).await {
            Ok(_) => {
                db.commit().await?;
                return Ok(see_other(LIST)
                    .saying(Flash::done(format!("{} is on the list.", board.name)))
                    .response(&app));
            }
            Err(Refusal::Taken(_)) => typed.refuse("name", "is taken; must be a name of its own"),
            Err(other) => return Err(other.into()),
        }
    }
    new_page(shell, &woods, typed).again()
}

async fn edit(
    State(app): State<App>,
    shell: Shell,
    Path(id): Path<LumberId>,
) -> Result<Response, Error> {
    let row = lumber::find(app.store.read(), id)
        .await?
        .ok_or_else(|| Error::NotFound("There is no such board any more.".into()))?;
    let woods = Woods::load(app.store.read()).await?;
    let typed = fill(&row, shell.lengths());
    edit_page(shell, &woods, id, typed).show()
}

async fn update(
    State(app): State<App>,
    shell: Shell,
    Steward(caller): Steward,
    Path(id): Path<LumberId>,
    mut typed: Typed,
) -> Result<Response, Error> {
    let lengths = shell.lengths();
    let woods = Woods::load(app.store.read()).await?;
    let Some(board) = read(&mut typed, &woods, lengths) else {
        return edit_page(shell, &woods, id, typed).again();
    };
    let mut db = app.store.begin().await?;
    match lumber::update(&mut db, app.by(&caller), id, version_of(&typed), &board).await {
        Ok(()) => {
            db.commit().await?;
            Ok(see_other(LIST)
                .saying(Flash::done(format!("{} is changed.", board.name)))
                .response(&app))
        }
        Err(Refusal::Stale) => {
            drop(db);
            let form = edit_page(shell, &woods, id, typed);
            match lumber::find(app.store.read(), id).await? {
                None => form.gone(LIST),
                Some(newer) => {
                    let yours = Lumber {
                        board,
                        ..newer.clone()
                    };
                    form.stale(&fill(&newer, lengths), &fill(&yours, lengths))
                }
            }
        }
        Err(Refusal::Taken(_)) => {
            typed.refuse("name", "is taken; must be a name of its own");
            edit_page(shell, &woods, id, typed).again()
        }
        Err(other) => Err(other.into()),
    }
}

async fn remove(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(id): Path<LumberId>,
    typed: Typed,
) -> Result<Response, Error> {
    let mut db = app.store.begin().await?;
    lumber::remove(&mut db, app.by(&caller), id, version_of(&typed)).await?;
    db.commit().await?;
    Ok(see_other(LIST)
        .saying(Flash::done("It is off the list."))
        .response(&app))
}

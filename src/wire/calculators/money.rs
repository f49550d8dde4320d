//! What a project costs.

use serde_json::{Value, json};

use super::super::problem::Problem;
use super::super::reading::{Node, Object, read};
use super::answer::source;
use crate::calc::cost::{BoardPrice, Bought, Prices, Used};
use crate::units::{Money, Source, Volume};

/// More than any project uses, and small enough that no sum of money overflows.
const MOST_AMOUNT: f64 = 1e4;
const MOST_BOARDS: usize = 100;

pub(super) fn cost(body: &[u8]) -> Result<Value, Problem> {
    read(body, |body| {
        let body = body.object(&[
            "bin_wood_board_feet",
            "bought",
            "glue_g",
            "sanded_m2",
            "finish_l",
            "prices",
        ])?;
        let amount = |name| match body.field(name) {
            Some(field) => field.number(0.0..=MOST_AMOUNT),
            None => Some(0.0),
        };
        let board_feet = amount("bin_wood_board_feet");
        let (glue_grams, sanded_m2, finish_litres) =
            (amount("glue_g"), amount("sanded_m2"), amount("finish_l"));
        let bought = match body.field("bought") {
            Some(field) => field.list(|board| bought_board(&board)).and_then(|bought| {
                if bought.len() > MOST_BOARDS {
                    return field.refuse(format!(
                        "names {} kinds of boards; must name at most {MOST_BOARDS}",
                        bought.len()
                    ));
                }
                Some(bought)
            }),
            None => Some(Vec::new()),
        };
        let prices = body.required("prices", |field| read_prices(&field));
        let used = Used {
            bin_wood: Volume::from_mm3(board_feet? * 2_359_737.216),
            bought: bought?,
            glue_grams: glue_grams?,
            sanded_m2: sanded_m2?,
            finish_litres: finish_litres?,
        };
        let sum = crate::calc::cost::cost(&used, &prices?);
        let money = |amount: Money| json!(amount.units());
        Some(json!({
            "bin_wood": money(sum.bin_wood),
            "bought_wood": money(sum.bought_wood),
            "glue": money(sum.glue),
            "abrasive": money(sum.abrasive),
            "finish": money(sum.finish),
            "total": money(sum.total()),
            "sources": [source("prices", &Source::WORKSHOP)],
        }))
    })
}

/// A bought board has a `price` for the piece, or `board_feet` with a `price_board_foot`.
fn bought_board(node: &Node<'_>) -> Option<Bought> {
    let board = node.object(&["name", "price", "board_feet", "price_board_foot", "count"])?;
    let name = board.required("name", |field| field.text().map(str::to_owned));
    let price = if board.field("price").is_some() {
        if board.field("board_feet").is_some() || board.field("price_board_foot").is_some() {
            return board
                .node()
                .refuse("has a price and a price by the board foot; must have one of the two");
        }
        board
            .required("price", |field| field.money())
            .map(BoardPrice::Piece)
    } else {
        let tallied = board.required("board_feet", |field| field.number(0.0..=MOST_AMOUNT));
        let price = board.required("price_board_foot", |field| field.money());
        tallied
            .zip(price)
            .map(|(tallied, price)| BoardPrice::BoardFoot { tallied, price })
    };
    let count = match board.field("count") {
        Some(field) => field.whole(1..=1000),
        None => Some(1),
    };
    Some(Bought {
        name: name?,
        price: price?,
        count: count?,
    })
}

pub(super) fn read_prices(node: &Node<'_>) -> Option<Prices> {
    let prices: Object<'_> =
        node.object(&["bin_wood_board_foot", "glue_kg", "abrasive_m2", "finish_l"])?;
    let price = |name| match prices.field(name) {
        Some(field) => field.money(),
        None => Some(Money::ZERO),
    };
    let bin_wood_board_foot = price("bin_wood_board_foot");
    let (glue, abrasive, finish) = (price("glue_kg"), price("abrasive_m2"), price("finish_l"));
    Some(Prices {
        bin_wood_board_foot: bin_wood_board_foot?,
        glue_kilogram: glue?,
        abrasive_square_metre: abrasive?,
        finish_litre: finish?,
    })
}

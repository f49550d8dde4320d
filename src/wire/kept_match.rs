//! Matches and layouts as the database keeps them: in the form of the calculation contract, so
//! that they can be handed out as they are, and read back into the same values.

use std::time::Duration;

use serde_json::{Value, json};

use super::length::{from_json, sentence_from_json, to_json};
use super::matching::{LayoutBody, Response, parse};
use crate::calc::matching::{
    Board, Bound, Content, Layout, NetWood, Outcome, Part, Piece, Request, Shop, Statistics, Stock,
    Stretch, Uncovered,
};
use crate::units::{Money, Volume};

/// A match and what it was made for: the pieces and boards that it uses, all strips, the shop.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptMatch {
    /// Only the pieces and boards that are used.
    pub request: Request,
    pub outcome: Outcome,
    /// Layouts that were given and not searched: the bound holds among the answers that have them.
    pub given_layouts: usize,
    pub seconds: f64,
}

/// A layout with the piece that it cuts and the shop's habits at that time, so that it can be
/// drawn and checked whatever has changed since.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptLayout {
    /// With its price if it is bought, which a piece from a bin has not.
    pub piece: Board,
    pub shop: Shop,
    pub layout: Layout,
}

/// The text was not written by this program.
#[derive(Debug, thiserror::Error)]
#[error("a kept match cannot be read: {0}")]
pub struct Unreadable(String);

impl KeptMatch {
    /// Keeps of `request` only what the outcome uses.
    pub fn new(
        request: &Request,
        outcome: Outcome,
        given_layouts: usize,
        elapsed: Duration,
    ) -> KeptMatch {
        let used = |id: &str| outcome.layouts.iter().any(|layout| layout.stock == id);
        // A preference breaks the ties of one solve and means nothing afterwards.
        let plain = |piece: &Piece| Piece {
            preference: 0,
            ..piece.clone()
        };
        let request = Request {
            stock: request
                .stock
                .iter()
                .filter(|piece| used(&piece.id))
                .map(plain)
                .collect(),
            buy: request
                .buy
                .iter()
                .filter(|board| used(&board.id))
                .cloned()
                .collect(),
            strips: request.strips.clone(),
            shop: request.shop,
        };
        KeptMatch {
            request,
            outcome,
            given_layouts,
            seconds: elapsed.as_secs_f64(),
        }
    }

    /// Strips that were wanted.
    pub fn wanted(&self) -> u32 {
        self.request.strips.iter().map(|strip| strip.count).sum()
    }

    /// The answer as the calculation contract prints it.
    pub fn response(&self) -> Response {
        Response::new(
            &self.outcome,
            Duration::from_secs_f64(self.seconds.max(0.0)),
        )
    }

    /// The layout with its piece, ready to be kept by itself.
    pub fn kept_layout(&self, layout: &Layout) -> Option<KeptLayout> {
        let piece = self
            .request
            .pieces()
            .find(|piece| piece.id == layout.stock)?;
        Some(KeptLayout {
            piece: board_of(&piece),
            shop: self.request.shop,
            layout: layout.clone(),
        })
    }

    pub fn print(&self) -> String {
        let mut answer = serde_json::to_value(self.response()).unwrap_or(Value::Null);
        // The response rounds to what the contract shows; these are exact.
        answer["cut_nm3"] = json!(self.outcome.net_wood.cut.nm3().to_string());
        answer["kept_nm3"] = json!(self.outcome.net_wood.kept.nm3().to_string());
        json!({
            "made_for": print_request(&self.request),
            "answer": answer,
            "given_layouts": self.given_layouts,
        })
        .to_string()
    }

    pub fn parse(text: &str) -> Result<KeptMatch, Unreadable> {
        let value: Value =
            serde_json::from_str(text).map_err(|error| Unreadable(error.to_string()))?;
        let (problem, _) = parse(value["made_for"].to_string().as_bytes())
            .map_err(|problem| Unreadable(problem.detail))?;
        let request = problem.into_request();
        let answer = &value["answer"];
        let lost = || Unreadable("the answer is not whole".to_owned());
        let outcome = read_outcome(answer, &request.shop).ok_or_else(lost)?;
        let given_layouts = value["given_layouts"].as_u64().ok_or_else(lost)?;
        let seconds = answer["seconds"].as_f64().ok_or_else(lost)?;
        Ok(KeptMatch {
            request,
            outcome,
            given_layouts: given_layouts as usize,
            seconds,
        })
    }
}

impl KeptLayout {
    /// The piece as the layout's methods want it.
    pub fn stock(&self) -> Stock<'_> {
        Stock {
            id: &self.piece.id,
            species: &self.piece.species,
            length: self.piece.length,
            width: self.piece.width,
            thickness: self.piece.thickness,
            unusable: &self.piece.unusable,
            square_ends: self.piece.square_ends,
            straight_edges: self.piece.straight_edges,
            count: None,
            price: self.piece.price,
            preference: 0,
        }
    }

    pub fn print(&self) -> String {
        let request = Request {
            buy: vec![self.piece.clone()],
            shop: self.shop,
            ..Request::default()
        };
        json!({
            "made_for": print_request(&request),
            "layout": LayoutBody::new(&self.layout),
        })
        .to_string()
    }

    pub fn parse(text: &str) -> Result<KeptLayout, Unreadable> {
        let value: Value =
            serde_json::from_str(text).map_err(|error| Unreadable(error.to_string()))?;
        let (problem, _) = parse(value["made_for"].to_string().as_bytes())
            .map_err(|problem| Unreadable(problem.detail))?;
        let request = problem.into_request();
        let lost = || Unreadable("the layout is not whole".to_owned());
        let layout = read_layout(&value["layout"]).ok_or_else(lost)?;
        let piece = request.buy.into_iter().next().ok_or_else(lost)?;
        Ok(KeptLayout {
            piece,
            shop: request.shop,
            layout,
        })
    }
}

fn board_of(piece: &Stock<'_>) -> Board {
    Board {
        id: piece.id.to_owned(),
        species: piece.species.to_owned(),
        length: piece.length,
        width: piece.width,
        thickness: piece.thickness,
        unusable: piece.unusable.to_vec(),
        square_ends: piece.square_ends,
        straight_edges: piece.straight_edges,
        price: piece.price,
    }
}

/// The request as [`parse`] reads it, without limits.
pub fn print_request(request: &Request) -> Value {
    let shop = &request.shop;
    json!({
        "stock": request.stock.iter().map(print_piece).collect::<Vec<_>>(),
        "buy": request.buy.iter().map(print_board).collect::<Vec<_>>(),
        "strips": request.strips.iter().map(|strip| json!({
            "id": strip.id,
            "species": strip.species,
            "count": strip.count,
            "length": to_json(strip.length),
            "sections": strip.sections.iter().map(|section| json!({
                "rip": to_json(section.rip), "thickness": to_json(section.thickness),
            })).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
        "shop": {
            "rip_kerf": to_json(shop.rip_kerf),
            "crosscut_kerf": to_json(shop.crosscut_kerf),
            "edge_trim": to_json(shop.edge_trim),
            "end_trim": to_json(shop.end_trim),
            "min_rip_length": to_json(shop.min_rip_length),
            "keep_length": to_json(shop.keep_length),
            "keep_width": to_json(shop.keep_width),
            "keep_credit": shop.keep_credit.share(),
        },
    })
}

fn print_piece(piece: &Piece) -> Value {
    json!({
        "id": piece.id,
        "species": piece.species,
        "length": to_json(piece.length),
        "width": to_json(piece.width),
        "thickness": to_json(piece.thickness),
        "count": piece.count,
        "unusable": print_stretches(&piece.unusable),
        "square_ends": piece.square_ends,
        "straight_edges": piece.straight_edges,
    })
}

fn print_board(board: &Board) -> Value {
    json!({
        "id": board.id,
        "species": board.species,
        "length": to_json(board.length),
        "width": to_json(board.width),
        "thickness": to_json(board.thickness),
        "unusable": print_stretches(&board.unusable),
        "square_ends": board.square_ends,
        "straight_edges": board.straight_edges,
        "price": board.price.units(),
    })
}

fn print_stretches(stretches: &[Stretch]) -> Vec<Value> {
    stretches
        .iter()
        .map(|stretch| json!({"from": to_json(stretch.from), "to": to_json(stretch.to)}))
        .collect()
}

fn whole(value: &Value) -> Option<u32> {
    u32::try_from(value.as_u64()?).ok()
}

fn money(value: &Value) -> Option<Money> {
    value.as_f64().map(Money::from_units_rounded)
}

/// A volume in whole cubic nanometres, written as text because JSON numbers are not so exact.
fn volume(value: &Value) -> Option<Volume> {
    let nm3: i128 = value.as_str()?.parse().ok()?;
    Some(Volume::from_nm3(nm3))
}

fn read_outcome(answer: &Value, shop: &Shop) -> Option<Outcome> {
    let layouts = answer["layouts"].as_array()?;
    let uncovered = answer["uncovered"].as_array()?.iter().map(|missing| {
        Some(Uncovered {
            id: missing["id"].as_str()?.to_owned(),
            count: whole(&missing["count"])?,
            why: sentence_from_json(&missing["why_parts"])?,
        })
    });
    let bound = &answer["bound"];
    Some(Outcome {
        layouts: layouts.iter().map(read_layout).collect::<Option<_>>()?,
        covered: whole(&answer["covered"])?,
        uncovered: uncovered.collect::<Option<_>>()?,
        spend: money(&answer["spend"])?,
        net_wood: NetWood {
            cut: volume(&answer["cut_nm3"])?,
            kept: volume(&answer["kept_nm3"])?,
            credit: shop.keep_credit,
        },
        touched: whole(&answer["touched"])?,
        bound: Bound {
            covered: whole(&bound["covered"])?,
            spend: money(&bound["spend"])?,
            net_wood_mm3: bound["net_wood_mm3"].as_f64()?,
        },
        proven: answer["proven"].as_bool()?,
        statistics: Statistics::default(),
    })
}

fn read_layout(value: &Value) -> Option<Layout> {
    Some(Layout {
        stock: value["stock"].as_str()?.to_owned(),
        copies: whole(&value["copies"])?,
        parts: value["parts"]
            .as_array()?
            .iter()
            .map(read_part)
            .collect::<Option<_>>()?,
    })
}

fn read_part(value: &Value) -> Option<Part> {
    let content = if let Some(parts) = value["parts"].as_array() {
        Content::Cut(parts.iter().map(read_part).collect::<Option<_>>()?)
    } else if let Some(id) = value["strip"].as_str() {
        Content::Strip(id.to_owned())
    } else if value["keep"].as_bool() == Some(true) {
        Content::Keep
    } else {
        Content::Waste
    };
    Some(Part {
        size: from_json(&value["size"]).ok()?,
        content,
    })
}

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use serde::Deserialize;

use super::claims::claim_error;
use super::cut_layout::{CutLayout, Labels};
use super::drawn::Drawer;
use super::live::size_words;
use super::opened::{Opened, by, own};
use super::path::{Head, Here};
use crate::app::App;
use crate::app::claim as claims;
use crate::app::cut::{self as cuts, CutError, Remainder};
use crate::calc::work::Leftover;
use crate::store::layout::{self, Source, StoredLayout};
use crate::store::{BinId, ClaimId, LayoutId, ProjectId, bin, claim, offcut};
use crate::units::{Length, LengthFormat};
use crate::web::shell::page_with;
use crate::web::{
    Error, Flash, Member, Path, Query, Section, Shell, Typed, lines, see_other, words,
};
use crate::wire::kept_match::KeptLayout;

/// Rows for remainders beyond those that the layout keeps.
const SPARE_ROWS: usize = 1;
const MOST_ROWS: usize = 100;

#[derive(Template)]
#[template(path = "projects/cuts.html")]
struct CutsPage {
    shell: Shell,
    head: Head,
    open: Vec<CutForm>,
    done: Vec<CutLayout>,
    /// What others cut that gives strips for this project.
    by_others: Vec<(CutLayout, bool)>,
    /// Remainders of the cut that was just booked, to be written on the wood.
    tags: Vec<NewTag>,
    n_wanted: u32,
    waits_for_others: bool,
    /// What falls off in the steps after the saw.
    leftovers: Vec<LeftoverLine>,
}

/// Wood that a later step leaves over, and the fields of a new piece made of it.
struct LeftoverLine {
    about: String,
    woods: String,
    /// None for a glued panel of several woods, which no bin takes.
    piece: Option<Vec<(&'static str, String)>>,
}

fn leftover_line(leftover: &Leftover, lengths: LengthFormat) -> LeftoverLine {
    let show = |length| lengths.show(length);
    let size = leftover.size;
    let about = if leftover.is_round {
        format!(
            "{}, {} across and {} thick",
            leftover.name,
            show(size.length),
            show(size.thickness)
        )
    } else {
        let count = if leftover.count > 1 {
            format!("{} × ", leftover.count)
        } else {
            String::new()
        };
        format!("{}, {count}{}", leftover.name, size_words(size, lengths))
    };
    let piece = match leftover.species.as_slice() {
        [species] => {
            let (length, width) = leftover.usable();
            let mut fields = vec![
                ("species", species.clone()),
                ("length", lengths.show_exact(length)),
                ("width", lengths.show_exact(width)),
                ("thickness", lengths.show_exact(size.thickness)),
                ("count", leftover.count.to_string()),
            ];
            if leftover.is_round {
                let note = format!(
                    "A round of {}; the size is that of the largest square in it.",
                    show(size.length)
                );
                fields.push(("note", note));
            }
            Some(fields)
        }
        _ => None,
    };
    LeftoverLine {
        about,
        woods: words::listed(&leftover.species),
        piece,
    }
}

struct NewTag {
    tag: String,
    size: String,
    bin: String,
}

/// One layout that is still to be cut.
struct CutForm {
    id: LayoutId,
    layout: CutLayout,
    left: u32,
    typed: Typed,
    rows: Vec<usize>,
    bins: Vec<(String, String)>,
    /// To put the piece back uncut; a bought board has none.
    claim: Option<ClaimId>,
    is_first: bool,
}

impl CutForm {
    /// The name of a field of a row.
    fn name(&self, field: &str, row: &usize) -> String {
        format!("{field}-{row}")
    }
}

#[derive(Deserialize)]
pub(super) struct Shown {
    /// Tags of new remainders, with commas between.
    #[serde(default)]
    tags: String,
}

pub(super) async fn show(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<ProjectId>,
    Query(shown): Query<Shown>,
) -> Result<Response, Error> {
    let tags: Vec<&str> = shown
        .tags
        .split(',')
        .filter(|tag| !tag.is_empty())
        .take(MOST_ROWS)
        .collect();
    cuts_page(&app, shell, &member, id, &tags, None).await
}

async fn cuts_page(
    app: &App,
    shell: Shell,
    member: &Member,
    id: ProjectId,
    tags: &[&str],
    mut again: Option<(LayoutId, Typed)>,
) -> Result<Response, Error> {
    let opened = Opened::find(app, id).await?;
    let lengths = shell.lengths();
    let drawer = Drawer {
        basis: &opened.basis,
        lengths,
    };
    let mut db = app.store.read().acquire().await?;
    let bins: Vec<(String, String)> = bin::list(&mut *db)
        .await?
        .into_iter()
        .map(|bin| (bin.id.to_string(), bin.name))
        .collect();
    let needs = opened.needs().ok();
    let leftovers = needs.iter().flat_map(|needs| &needs.leftovers);
    let leftovers = leftovers
        .map(|leftover| leftover_line(leftover, lengths))
        .collect();
    let mut numbers = Labels::new(id, needs.as_ref());
    let (mut open, mut done, mut by_others) = (Vec::new(), Vec::new(), Vec::new());
    let mut layouts = layout::list_of_project(&mut *db, id).await?;
    layouts.extend(layout::list_shared_with_project(&mut *db, id).await?);
    for stored in layouts {
        let kept = KeptLayout::parse(&stored.cut).map_err(|error| Error::Internal(error.into()))?;
        let labels = numbers.labels(&kept.layout, &kept.stock(), &kept.shop);
        let prefix = format!("cut{}", stored.id);
        let mut shown = CutLayout::new(
            &drawer,
            &prefix,
            &kept.layout,
            kept.stock(),
            &kept.shop,
            &labels,
            &opened.design,
        );
        let mut lies_in = None;
        if let Source::Claimed { offcut, .. } = &stored.source
            && let Some(piece) = offcut::find(&mut *db, *offcut).await?
        {
            shown.href = Some(format!("/offcuts/{}", piece.id));
            lies_in = piece.bin;
            shown.bin = piece.bin_name;
        }
        shown.share(&mut db, &stored, id).await?;
        let left = stored.copies - stored.copies_cut;
        if stored.project != id {
            by_others.push((shown, left == 0));
            continue;
        }
        if left == 0 {
            done.push(shown);
            continue;
        }
        let is_again = again
            .as_ref()
            .is_some_and(|(layout, _)| *layout == stored.id);
        let typed = match again.take_if(|_| is_again) {
            Some((_, typed)) => typed,
            None => {
                let bin = lies_in.map_or_else(
                    || bins.first().map_or_else(String::new, |(id, _)| id.clone()),
                    |bin| bin.to_string(),
                );
                filled(&kept, left, &bin, lengths)
            }
        };
        let n_rows: usize = typed.text("rows").parse().unwrap_or(SPARE_ROWS);
        open.push(CutForm {
            id: stored.id,
            layout: shown,
            left,
            rows: (0..n_rows.min(MOST_ROWS)).collect(),
            bins: bins.clone(),
            claim: claim_of(&stored),
            is_first: open.is_empty() || is_again,
            typed,
        });
    }
    let mut new_tags = Vec::new();
    for tag in tags {
        if let Some(piece) = offcut::find_by_tag(&mut *db, tag).await? {
            new_tags.push(NewTag {
                size: format!(
                    "{} {} × {} × {}{}",
                    piece.species,
                    lengths.show(piece.length),
                    lengths.show(piece.width),
                    lengths.show(piece.thickness),
                    if piece.count > 1 {
                        format!(", {} pieces", piece.count)
                    } else {
                        String::new()
                    }
                ),
                bin: piece.bin_name.unwrap_or_default(),
                tag: piece.tag,
            });
        }
    }
    let is_wrong = open.iter().any(|form| !form.typed.is_fine());
    let wanted = crate::app::matching::wanted(&mut db, id).await?;
    let page = CutsPage {
        head: opened.head(member, Here::Cuts),
        open,
        done,
        waits_for_others: by_others.iter().any(|(_, is_cut)| !is_cut),
        by_others,
        tags: new_tags,
        leftovers,
        n_wanted: wanted.iter().map(|strip| strip.count).sum(),
        shell: shell.at(Section::Projects),
    };
    let status = if is_wrong {
        StatusCode::UNPROCESSABLE_ENTITY
    } else {
        StatusCode::OK
    };
    page_with(status, &page)
}

fn claim_of(stored: &StoredLayout) -> Option<ClaimId> {
    match &stored.source {
        Source::Claimed { claim, .. } => Some(*claim),
        Source::Bought(_) => None,
    }
}

/// The form as the layout would have it, with a spare row.
fn filled(kept: &KeptLayout, copies: u32, bin: &str, lengths: LengthFormat) -> Typed {
    // The bin is chosen in the form; any will do here.
    let remainders = cuts::expected_remainders(kept, BinId(0));
    let mut values = vec![
        ("copies".to_owned(), copies.to_string()),
        (
            "rows".to_owned(),
            (remainders.len() + SPARE_ROWS).to_string(),
        ),
    ];
    for row in 0..remainders.len() + SPARE_ROWS {
        let mut put = |field: &str, value: String| values.push((format!("{field}-{row}"), value));
        put("bin", bin.to_owned());
        put("thickness", lengths.show_exact(kept.piece.thickness));
        put("count", copies.to_string());
        if let Some(remainder) = remainders.get(row) {
            put("length", lengths.show_exact(remainder.length));
            put("width", lengths.show_exact(remainder.width));
            if remainder.square_ends {
                put("square_ends", "yes".to_owned());
            }
            if remainder.straight_edges {
                put("straight_edges", "yes".to_owned());
            }
        }
    }
    Typed::filled(
        values
            .iter()
            .map(|(name, value)| (name.as_str(), value.clone())),
    )
}

/// The remainders in the form, each with its row; rows without a length are left out.
fn read(typed: &mut Typed, lengths: LengthFormat) -> Option<Vec<(usize, Remainder)>> {
    let n_rows: usize = typed.text("rows").parse().unwrap_or_default();
    let mut remainders = Vec::new();
    for row in 0..n_rows.min(MOST_ROWS) {
        let name = |field: &str| format!("{field}-{row}");
        if typed.text(&name("length")).is_empty() && typed.text(&name("width")).is_empty() {
            continue;
        }
        let mut size = |field: &str| {
            typed.take(&name(field), |text| {
                Length::parse_positive(text, Some(lengths.unit()))
            })
        };
        let (length, width, thickness) = (size("length"), size("width"), size("thickness"));
        let count = typed.take(&name("count"), |text| {
            text.parse::<u32>()
                .map_err(|_| format!("is \"{text}\"; must be a whole number of at least 1"))
        });
        let bin = typed.take(&name("bin"), |text| {
            text.parse::<BinId>()
                .map_err(|_| "is none of the bins; choose one".to_owned())
        });
        let note = typed.take(&name("note"), |text| lines(text, 200));
        let square_ends = typed.is_ticked(&name("square_ends"));
        let straight_edges = typed.is_ticked(&name("straight_edges"));
        if let (Some(length), Some(width), Some(thickness), Some(count), Some(bin), Some(note)) =
            (length, width, thickness, count, bin, note)
        {
            let remainder = Remainder {
                length,
                width,
                thickness,
                count,
                square_ends,
                straight_edges,
                bin,
                note,
            };
            remainders.push((row, remainder));
        }
    }
    typed.is_fine().then_some(remainders)
}

/// Books pieces as cut, and puts what is left into bins under new tags.
pub(super) async fn cut(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path((id, layout_id)): Path<(ProjectId, LayoutId)>,
    mut typed: Typed,
) -> Result<Response, Error> {
    own(&app, &member, id).await?;
    let stored = layout::find(app.store.read(), layout_id)
        .await?
        .filter(|layout| layout.project == id)
        .ok_or_else(|| Error::NotFound("There is no such cut in this project.".into()))?;
    let left = stored.copies - stored.copies_cut;
    if left == 0 {
        return Err(cut_error(CutError::NothingLeft));
    }
    let copies = typed.take("copies", |text| {
        text.parse::<u32>()
            .ok()
            .filter(|copies| (1..=left).contains(copies))
            .ok_or_else(|| format!("is \"{text}\"; must be from 1 to {left}"))
    });
    let remainders = read(&mut typed, shell.lengths());
    let (Some(copies), Some(remainders)) = (copies, remainders) else {
        return cuts_page(&app, shell, &member, id, &[], Some((layout_id, typed))).await;
    };
    let rows: Vec<usize> = remainders.iter().map(|(row, _)| *row).collect();
    let remainders: Vec<Remainder> = remainders
        .into_iter()
        .map(|(_, remainder)| remainder)
        .collect();
    let mut db = app.store.begin().await?;
    match cuts::cut(&mut db, by(&app, &member), layout_id, copies, &remainders).await {
        Ok(cut) => {
            db.commit().await?;
            let tags: Vec<&str> = cut.remainders.iter().map(|(_, tag)| tag.as_str()).collect();
            let said = if tags.is_empty() {
                "Booked as cut; nothing goes back to a bin.".to_owned()
            } else {
                format!(
                    "Booked as cut. Write {} on what is left: {}.",
                    if tags.len() == 1 {
                        "the tag"
                    } else {
                        "the tags"
                    },
                    words::listed(&tags)
                )
            };
            Ok(
                see_other(format!("/projects/{id}/cuts?tags={}", tags.join(",")))
                    .saying(Flash::done(said))
                    .response(&app),
            )
        }
        Err(CutError::Wrong(flaws)) => {
            for flaw in flaws {
                let place: Vec<&str> = flaw.pointer.trim_start_matches('/').split('/').collect();
                let field = match place.as_slice() {
                    ["remainders", position, field] => position
                        .parse::<usize>()
                        .ok()
                        .and_then(|position| rows.get(position))
                        .map(|row| format!("{field}-{row}")),
                    _ => None,
                };
                typed.refuse(
                    field.unwrap_or_else(|| "remainders".to_owned()),
                    flaw.detail,
                );
            }
            drop(db);
            cuts_page(&app, shell, &member, id, &[], Some((layout_id, typed))).await
        }
        Err(error) => Err(cut_error(error)),
    }
}

pub(in crate::web) fn cut_error(error: CutError) -> Error {
    match error {
        CutError::Unknown => Error::NotFound("There is no such cut.".into()),
        CutError::NothingLeft => Error::Conflict(
            "Nothing of it is left to cut: it was booked already, or the claim has ended.".into(),
        ),
        CutError::Wrong(flaws) => Error::Wrong(flaws),
        CutError::Unreadable(error) => Error::Internal(error.into()),
        CutError::Store(refusal) => refusal.into(),
    }
}

/// Puts a claimed piece back uncut.
pub(super) async fn put_back(
    State(app): State<App>,
    member: Member,
    Path((id, claim_id)): Path<(ProjectId, ClaimId)>,
    typed: Typed,
) -> Result<Response, Error> {
    own(&app, &member, id).await?;
    let held = claim::find(app.store.read(), claim_id)
        .await?
        .filter(|claim| claim.project == id)
        .ok_or_else(|| Error::NotFound("There is no such claim.".into()))?;
    let bin = typed.text("bin").parse::<BinId>().ok();
    let mut db = app.store.begin().await?;
    claims::put_back(&mut db, by(&app, &member), claim_id, bin)
        .await
        .map_err(claim_error)?;
    db.commit().await?;
    // Whoever stands at the bin with the piece in hand stays with the piece.
    let to = if typed.is_ticked("at_the_bin") {
        format!("/offcuts/{}", held.offcut)
    } else {
        format!("/projects/{id}/cuts")
    };
    Ok(see_other(to)
        .saying(Flash::done(format!(
            "{} is back in its bin, uncut; its strips are wanted again.",
            held.tag
        )))
        .response(&app))
}

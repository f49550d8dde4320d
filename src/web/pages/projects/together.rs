//! Several projects matched at once, with what that gains against one after the other.

use std::time::Duration;

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use super::claims::claim_error;
use super::cut_layout::{CutLayout, Labels};
use super::drawn::Drawer;
use super::opened::{Opened, by, own_one};
use crate::app::App;
use crate::app::matching::StripName;
use crate::app::running_match::reason;
use crate::app::together::{self, Accepted, Portion, Together, TogetherError, Worth};
use crate::calc::matching::Use;
use crate::store::project::{self, Search, Stage};
use crate::store::{ProjectId, ProposalId, offcut};
use crate::units::{Money, Volume};
use crate::web::{
    Error, Flash, Member, Path, Section, Shell, Typed, page, page_again, see_other, words,
};

/// For both ways of matching.
const TIME: Duration = Duration::from_secs(8);

#[derive(Template)]
#[template(path = "projects/together.html")]
struct ChoosePage {
    shell: Shell,
    typed: Typed,
    projects: Vec<Candidate>,
    /// Matches to which others agreed: number and projects.
    waiting: Vec<(ProposalId, String)>,
}

struct Candidate {
    id: ProjectId,
    name: String,
    who: String,
    is_chosen: bool,
}

#[derive(Template)]
#[template(path = "projects/together_found.html")]
struct FoundPage {
    shell: Shell,
    id: ProposalId,
    summary: String,
    gain: String,
    rows: Vec<(&'static str, String, String)>,
    portions: Vec<Portion>,
    layouts: Vec<SharedLayout>,
    uncovered: Vec<String>,
    /// What pressing the button does.
    claims: Option<&'static str>,
    /// Who has to agree before anything is claimed, where that is not the reader alone.
    waits_for: Vec<String>,
    is_accepted: bool,
}

struct SharedLayout {
    layout: CutLayout,
    /// Who holds the piece and cuts it.
    cutter: String,
    /// The projects that get strips from it, where they are several.
    shares: Vec<String>,
}

async fn choose_page(
    app: &App,
    shell: Shell,
    member: &Member,
    typed: Typed,
) -> Result<ChoosePage, Error> {
    let search = Search {
        limit: 200,
        ..Search::default()
    };
    let mut db = app.store.read().acquire().await?;
    let mut projects = project::list(&mut *db, &search).await?;
    // The member's own first.
    projects.sort_by_key(|project| project.member != member.id());
    let waiting = together::waiting_for(&mut db, member.id())
        .await
        .map_err(together_error)?;
    let names = |found: &Together| -> Vec<String> {
        let portions = found.portions.iter();
        portions.map(|portion| portion.name.clone()).collect()
    };
    Ok(ChoosePage {
        waiting: waiting
            .iter()
            .map(|(id, found)| (*id, words::listed(&names(found))))
            .collect(),
        projects: projects
            .iter()
            .filter(|project| project.stage < Stage::Claimed)
            .map(|project| Candidate {
                id: project.id,
                name: project.about.name.clone(),
                who: project.member_name.clone(),
                is_chosen: typed.has("project", &project.id.to_string()),
            })
            .collect(),
        shell: shell.at(Section::Projects),
        typed,
    })
}

pub(super) async fn choose(
    State(app): State<App>,
    shell: Shell,
    member: Member,
) -> Result<Response, Error> {
    page(&choose_page(&app, shell, &member, Typed::default()).await?)
}

pub(super) async fn propose(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    mut typed: Typed,
) -> Result<Response, Error> {
    let ids: Vec<ProjectId> = typed
        .all("project")
        .filter_map(|id| id.parse().ok())
        .collect();
    if ids.len() < 2 {
        typed.refuse("project", "are fewer than two; must be at least two");
        return page_again(&choose_page(&app, shell, &member, typed).await?);
    }
    own_one(&app, &member, &ids).await?;
    match together::propose(&app, by(&app, &member), member.id(), &ids, TIME, |_| ()).await {
        Ok((id, _)) => Ok(see_other(format!("/projects/together/{id}")).response(&app)),
        Err(TogetherError::Match(crate::app::matching::MatchError::Busy)) => Err(Error::Busy),
        Err(TogetherError::Match(error)) => {
            typed.refuse("project", format!("cannot be matched: {}", reason(&error)));
            page_again(&choose_page(&app, shell, &member, typed).await?)
        }
        Err(error) => Err(together_error(error)),
    }
}

fn together_error(error: TogetherError) -> Error {
    match error {
        TogetherError::Match(crate::app::matching::MatchError::Unknown) => {
            Error::NotFound("There is no such match; after a week it is forgotten.".into())
        }
        TogetherError::Match(error) => Error::Conflict(reason(&error)),
        TogetherError::Claim(error) => claim_error(error),
        TogetherError::AlreadyAccepted => Error::Conflict("This match was claimed already.".into()),
        TogetherError::NotAmongThem => Error::Forbidden(
            "Only a member whose project is among them, or a steward, may do this.".into(),
        ),
        TogetherError::Unreadable(error) => Error::Internal(error.into()),
    }
}

fn feet(mm3: f64) -> f64 {
    Volume::from_mm3(mm3).board_feet()
}

/// What matching together is worth, in plain words.
fn gain(together: &Worth, alone: &Worth) -> String {
    if together.covered > alone.covered {
        let more = (together.covered - alone.covered) as usize;
        return format!(
            "Together {} more can be had than one project after the other.",
            words::counted(more, "strip", "strips")
        );
    }
    if together.spend_cents < alone.spend_cents {
        let saved = Money::from_cents(alone.spend_cents - together.spend_cents);
        return format!("Together it costs {saved} less than one project after the other.");
    }
    let saved = feet(alone.net_wood_mm3) - feet(together.net_wood_mm3);
    if saved > 0.005 && alone.net_wood_mm3 > 0.0 {
        format!(
            "Together it takes {saved:.2} board feet less, {:.0} % of the wood.",
            saved / feet(alone.net_wood_mm3) * 100.0
        )
    } else {
        "Matching one after the other would be as good: here nothing is gained.".to_owned()
    }
}

fn rows(together: &Worth, alone: &Worth) -> Vec<(&'static str, String, String)> {
    let both = |say: &dyn Fn(&Worth) -> String| (say(together), say(alone));
    let row = |name, (left, right): (String, String)| (name, left, right);
    vec![
        row(
            "Strips",
            both(&|worth| format!("{} of {}", worth.covered, worth.wanted)),
        ),
        row(
            "To buy",
            both(&|worth| Money::from_cents(worth.spend_cents).to_string()),
        ),
        row(
            "Wood, net",
            both(&|worth| format!("{:.2} board feet", feet(worth.net_wood_mm3))),
        ),
        row("Pieces touched", both(&|worth| worth.touched.to_string())),
    ]
}

pub(super) async fn show(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<ProposalId>,
) -> Result<Response, Error> {
    let mut db = app.store.read().acquire().await?;
    let (found, _, is_accepted) = together::find(&mut db, id).await.map_err(together_error)?;
    let waits = together::waits_for(&mut db, &found)
        .await
        .map_err(together_error)?;
    drop(db);
    let is_waited_for = waits.iter().any(|(owner, _)| *owner == member.id());
    let is_last = is_waited_for && waits.len() == 1;
    let claims = if is_accepted || found.kept.outcome.layouts.is_empty() {
        None
    } else if shell.is_steward() || is_last {
        Some("Claim all these pieces")
    } else {
        is_waited_for.then_some("Agree to it")
    };
    let layouts = layouts(&app, &shell, &found).await?;
    let outcome = &found.kept.outcome;
    let wanted = found.kept.wanted();
    page(&FoundPage {
        id,
        summary: if outcome.covered == wanted {
            format!("All {wanted} strips can be had.")
        } else {
            format!("{} of {wanted} strips can be had.", outcome.covered)
        },
        gain: gain(&found.together, &found.one_by_one),
        rows: rows(&found.together, &found.one_by_one),
        uncovered: outcome
            .uncovered
            .iter()
            .map(|missing| {
                format!(
                    "{} × {}: {}",
                    missing.count,
                    missing.id,
                    missing.why.show(shell.lengths())
                )
            })
            .collect(),
        claims,
        waits_for: if is_accepted || is_last {
            Vec::new()
        } else {
            waits.into_iter().map(|(_, name)| name).collect()
        },
        is_accepted,
        layouts,
        portions: found.portions,
        shell: shell.at(Section::Projects),
    })
}

async fn layouts(app: &App, shell: &Shell, found: &Together) -> Result<Vec<SharedLayout>, Error> {
    let name_of = |id: ProjectId| {
        let portion = found.portions.iter().find(|portion| portion.project == id);
        portion.map_or_else(
            || format!("project {id}"),
            |portion| format!("{} ({})", portion.name, portion.member_name),
        )
    };
    let mut opened: Vec<(ProjectId, Opened)> = Vec::new();
    for portion in &found.portions {
        opened.push((portion.project, Opened::find(app, portion.project).await?));
    }
    let mut numberss: Vec<(ProjectId, Labels)> = opened
        .iter()
        .map(|(id, opened)| (*id, Labels::new(*id, opened.needs().ok().as_ref())))
        .collect();
    let request = &found.kept.request;
    let mut shown = Vec::new();
    for (place, (layout, cutter)) in found
        .kept
        .outcome
        .layouts
        .iter()
        .zip(&found.cutters)
        .enumerate()
    {
        let stock = request.pieces().find(|piece| piece.id == layout.stock);
        let of_cutter = opened.iter().find(|(id, _)| id == cutter);
        let (Some(stock), Some((_, of_cutter))) = (stock, of_cutter) else {
            continue;
        };
        let drawer = Drawer {
            basis: &of_cutter.basis,
            lengths: shell.lengths(),
        };
        let mut shares: Vec<ProjectId> = Vec::new();
        let labels: Vec<String> = layout
            .rectangles(&stock, &request.shop)
            .iter()
            .filter_map(|rectangle| match rectangle.used_as {
                Use::Strip(id) => Some(id),
                _ => None,
            })
            .map(|id| {
                let owner = id.parse::<StripName>().map(|name| name.project).ok();
                if let Some(owner) = owner
                    && !shares.contains(&owner)
                {
                    shares.push(owner);
                }
                let numbers = numberss
                    .iter_mut()
                    .find(|(project, _)| Some(*project) == owner);
                numbers.map_or_else(
                    || id.to_owned(),
                    |(project, numbers)| format!("P{project} {}", numbers.label(id, layout.copies)),
                )
            })
            .collect();
        let prefix = format!("cut{place}");
        let mut cut = CutLayout::new(
            &drawer,
            &prefix,
            layout,
            stock,
            &request.shop,
            &labels,
            &of_cutter.design,
        );
        if let Some(piece) = offcut::find_by_tag(app.store.read(), &cut.piece).await? {
            cut.bin = piece.bin_name;
            cut.href = Some(format!("/offcuts/{}", piece.id));
        }
        let is_shared = shares.len() > 1;
        shown.push(SharedLayout {
            layout: cut,
            cutter: name_of(*cutter),
            shares: if is_shared {
                shares.into_iter().map(name_of).collect()
            } else {
                Vec::new()
            },
        });
    }
    Ok(shown)
}

/// Claims everything or nothing.
pub(super) async fn claim(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProposalId>,
) -> Result<Response, Error> {
    let mut db = app.store.begin().await?;
    let is_steward = member.is_steward();
    let accepted = together::accept(&mut db, by(&app, &member), member.id(), is_steward, id)
        .await
        .map_err(together_error)?;
    db.commit().await?;
    let said = match accepted {
        Accepted::Claimed(claimed) if claimed.len() == 1 => {
            "One piece is held for the projects.".to_owned()
        }
        Accepted::Claimed(claimed) => {
            format!("{} pieces are held for the projects.", claimed.len())
        }
        Accepted::WaitsFor(names) => format!(
            "You agree. It is claimed when {} too; tell them.",
            match names.as_slice() {
                [one] => format!("{one} agrees"),
                several => format!("{} agree", words::listed(several)),
            }
        ),
    };
    Ok(see_other(format!("/projects/together/{id}"))
        .saying(Flash::done(said))
        .response(&app))
}

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use serde_json::{Value, json};

use super::advised::{Advised, Cautions, ConcernLine, Fact, cautions_by_subject, costs};
use super::bench_step::{StepsOf, work};
use super::cut_layout::{CutLayout, Labels};
use super::drawn::Drawer;
use super::live::{NeedLine, WarningLine, need_lines, size_words, warning_line};
use super::opened::{Opened, flaw_words};
use super::path::{Head, Here};
use crate::app::advice::{self};
use crate::app::{App, days};
use crate::calc::matching::{Direction, Layout, Visit, cut_order};
use crate::calc::work::{Step, StepKind};
use crate::export::svg::{self, Drawing, Style};
use crate::store::booking::{self};
use crate::store::layout::{self, Source, StoredLayout};
use crate::store::{ProjectId, offcut, workshop};
use crate::units::{Length, LengthFormat};
use crate::web::{Error, Member, Path, Section, Shell, page, words};
use crate::wire::kept_match::{KeptLayout, KeptMatch};

/// A strip that is shorter than this is clamped down for the last cut: a hand is 150 mm from the blade at least (common
/// practice, as the caution about crosscutting says).
const SHORT: Length = Length::from_inches(12, 1);

/// Subjects of cautions that hold at nearly every step: said once, before the first.
const EVERYWHERE: [&str; 2] = ["any machine", "wood dust"];

#[derive(Template)]
#[template(path = "projects/bench_sheet.html")]
struct BenchSheetPage {
    shell: Shell,
    head: Head,
    sheet: Sheet,
}

/// Everything that stands on a bench sheet, in words and drawings.
struct Sheet {
    printed: String,
    drawing: Drawing,
    exploded: Option<Drawing>,
    size: String,
    note: String,
    flaws: Vec<String>,
    needs: Vec<NeedLine>,
    warnings: Vec<WarningLine>,
    concerns: Vec<ConcernLine>,
    movement: Vec<Fact>,
    woods: Vec<Fact>,
    reckoned: Option<Reckoned>,
    /// Cautions about every step and about the materials.
    first: Vec<Cautions>,
    visits: Vec<VisitLines>,
    layouts: Vec<CutLayout>,
    /// The layouts are those of a match that nobody has claimed yet.
    is_only_matched: bool,
    steps: Vec<StepSheet>,
    has_templates: bool,
}

/// Figures that were worked out before the first cut.
struct Reckoned {
    weight: String,
    costs: Vec<(String, String)>,
}

/// A visit to a saw.
struct VisitLines {
    heading: &'static str,
    what: &'static str,
    settings: Vec<SettingLine>,
}

struct SettingLine {
    size: String,
    /// `A015: 3 parts`.
    cuts: Vec<String>,
    is_short: bool,
}

/// One step with everything that belongs to it.
struct StepSheet {
    name: String,
    minutes: String,
    booked: Option<String>,
    wait: Option<String>,
    is_cutting: bool,
    says: Vec<Fact>,
    drawings: Vec<Drawing>,
    /// Cautions that were not said at an earlier step.
    cautions: Vec<Cautions>,
    /// `any machine (at the top), routing (at step 7)`: cautions that stand there already.
    as_before: Option<String>,
}

pub(super) async fn show(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<ProjectId>,
) -> Result<Response, Error> {
    let opened = Opened::find(&app, id).await?;
    page(&BenchSheetPage {
        head: opened.head(&member, Here::BenchSheet),
        sheet: sheet(&app, &opened, shell.lengths()).await?,
        shell: shell.at(Section::Projects),
    })
}

/// The bench sheet for scripts: the same words without the drawings.
pub(in crate::web) async fn as_json(
    app: &App,
    shell: &Shell,
    id: ProjectId,
) -> Result<Value, Error> {
    let opened = Opened::find(app, id).await?;
    let sheet = sheet(app, &opened, shell.lengths()).await?;
    let facts = |facts: &[Fact]| -> Vec<Value> {
        let facts = facts.iter();
        facts
            .map(|fact| json!({"text": fact.text, "source": fact.source}))
            .collect()
    };
    let cautions = |groups: &[Cautions]| -> Vec<Value> {
        let of = |group: &Cautions| {
            let facts = group.facts.iter();
            let caution = |fact: &Fact| json!({"about": group.about, "text": fact.text, "source": fact.source});
            facts.map(caution).collect::<Vec<Value>>()
        };
        groups.iter().flat_map(of).collect()
    };
    Ok(json!({
        "project": id,
        "name": opened.project.about.name,
        "finished": sheet.size,
        "flaws": sheet.flaws,
        "concerns": sheet.concerns.iter().map(|concern| json!({
            "text": concern.about.trim_end(), "cure": concern.cure.trim_end(),
        })).collect::<Vec<_>>(),
        "movement": facts(&sheet.movement),
        "woods": facts(&sheet.woods),
        "weight": sheet.reckoned.as_ref().map(|reckoned| &reckoned.weight),
        "cost": sheet.reckoned.iter().flat_map(|reckoned| &reckoned.costs).map(|(what, price)| json!({
            "of": what, "price": price,
        })).collect::<Vec<_>>(),
        "cautions": cautions(&sheet.first),
        "is_claimed": !sheet.is_only_matched && !sheet.layouts.is_empty(),
        "visits": sheet.visits.iter().map(|visit| json!({
            "cut": visit.heading,
            "settings": visit.settings.iter().map(|setting| json!({
                "size": setting.size, "pieces": setting.cuts, "is_short": setting.is_short,
            })).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
        "pieces": sheet.layouts.iter().map(|layout| json!({
            "piece": layout.piece, "copies": layout.copies, "bin": layout.bin, "gives": layout.gives,
            "goes_back": layout.kept, "cut_by": layout.cut_by, "for_others": layout.for_others,
        })).collect::<Vec<_>>(),
        "steps": sheet.steps.iter().map(|step| json!({
            "name": step.name, "time": step.minutes, "booked": step.booked, "wait": step.wait,
            "says": facts(&step.says), "cautions": cautions(&step.cautions), "cautions_as_before": step.as_before,
        })).collect::<Vec<_>>(),
    }))
}

async fn sheet(app: &App, opened: &Opened, lengths: LengthFormat) -> Result<Sheet, Error> {
    let id = opened.project.id;
    let drawer = Drawer {
        basis: &opened.basis,
        lengths,
    };
    let project = &opened.project;
    let name = &project.about.name;
    let mut db = app.store.read().acquire().await?;
    let zone = workshop::get(&mut *db).await?.time_zone;
    let today = words::day(days::day_of(app.clock.now(), &zone));
    let mut sheet = Sheet {
        printed: today,
        drawing: drawer.finished("board", Style::PHONE, name, &opened.design),
        exploded: None,
        size: size_words(opened.design.finished(&opened.basis.practice), lengths),
        note: project.about.note.clone(),
        flaws: Vec::new(),
        needs: Vec::new(),
        warnings: Vec::new(),
        concerns: Vec::new(),
        movement: Vec::new(),
        woods: Vec::new(),
        reckoned: None,
        first: Vec::new(),
        visits: Vec::new(),
        layouts: Vec::new(),
        is_only_matched: false,
        steps: Vec::new(),
        has_templates: super::templates::has_any(&opened.design),
    };
    let needs = match opened.needs() {
        Ok(needs) => needs,
        Err(flaws) => {
            sheet.flaws = flaws.iter().map(|flaw| flaw_words(flaw, lengths)).collect();
            return Ok(sheet);
        }
    };
    sheet.needs = need_lines(&needs, &drawer);
    if needs.places.len() > 1 {
        let drawing = drawer.with("strips", Style::PHONE, |style| {
            svg::exploded_strips(style, name, &needs)
        });
        sheet.exploded = Some(drawing);
    }
    let warnings = needs.warnings.iter();
    sheet.warnings = warnings.map(|about| warning_line(about, lengths)).collect();

    let (kept, is_only_matched) = kept_layouts(&mut db, opened).await?;
    sheet.is_only_matched = is_only_matched && !kept.is_empty();
    // What others cut is no cut of this project.
    let is_own =
        |stored: &Option<StoredLayout>| stored.as_ref().is_none_or(|stored| stored.project == id);
    let pairs: Vec<_> = kept
        .iter()
        .filter(|(_, stored)| is_own(stored))
        .map(|(kept, _)| (&kept.layout, kept.stock()))
        .collect();
    let shop = kept
        .first()
        .map_or(opened.basis.shop, |(kept, _)| kept.shop);
    let visits = cut_order(&pairs, &shop);
    sheet.visits = visits
        .iter()
        .map(|visit| visit_lines(visit, &pairs, lengths))
        .collect();
    let mut numbers = Labels::new(id, Some(&needs));
    for (place, (kept, stored)) in kept.iter().enumerate() {
        let labels = numbers.labels(&kept.layout, &kept.stock(), &kept.shop);
        let mut shown = CutLayout::new(
            &drawer,
            &format!("cut{place}"),
            &kept.layout,
            kept.stock(),
            &kept.shop,
            &labels,
            &opened.design,
        );
        if let Some(piece) = offcut::find_by_tag(&mut *db, &kept.layout.stock).await? {
            shown.bin = piece.bin_name;
        }
        if let Some(stored) = stored {
            shown.share(&mut db, stored, id).await?;
        }
        sheet.layouts.push(shown);
    }

    let of = advice::of_project(&mut db, project, &needs, &opened.basis, &opened.settings).await?;
    let bookings = booking::list_of_project(&mut *db, id).await?;
    let advised = Advised::new(&of, &needs, &opened.basis, lengths);
    // What the steps say themselves is said there, where the work is done.
    let with_steps = needs.cautions();
    let materials = of.advice.cautions.iter().copied();
    let first: Vec<&str> = EVERYWHERE
        .into_iter()
        .filter(|subject| with_steps.contains(subject))
        .chain(materials.filter(|subject| !with_steps.contains(subject)))
        .collect();
    sheet.first = cautions_by_subject(&first);
    sheet.reckoned = Some(Reckoned {
        weight: format!(
            "{:.1} kg ({:.1} lb) finished, {:.1} kg ({:.1} lb) as cut",
            needs.weight.kilograms(),
            needs.weight.pounds(),
            of.advice.rough_weight.kilograms(),
            of.advice.rough_weight.pounds()
        ),
        costs: costs(&of),
    });
    sheet.steps = steps(&StepsOf {
        opened,
        drawer: &drawer,
        needs: &needs,
        of: &of,
        advised: &advised,
        bookings: &bookings,
        zone: &zone,
    });
    sheet.concerns = advised.concerns;
    sheet.movement = advised.movement;
    sheet.woods = advised.woods;
    Ok(sheet)
}

/// What is claimed, in the order of the cuts, and then what others cut; before that, what the match proposes.
async fn kept_layouts(
    db: &mut sqlx::SqliteConnection,
    opened: &Opened,
) -> Result<(Vec<(KeptLayout, Option<StoredLayout>)>, bool), Error> {
    let id = opened.project.id;
    let mut kept = Vec::new();
    let own = layout::list_of_project(&mut *db, id).await?;
    let shared = layout::list_shared_with_project(&mut *db, id).await?;
    for stored in own.into_iter().chain(shared) {
        let mut layout =
            KeptLayout::parse(&stored.cut).map_err(|error| Error::Internal(error.into()))?;
        if let Source::Bought(name) = &stored.source {
            layout.layout.stock.clone_from(name);
        }
        kept.push((layout, Some(stored)));
    }
    if !kept.is_empty() {
        return Ok((kept, false));
    }
    let found = opened
        .project
        .current_match()
        .and_then(|found| KeptMatch::parse(&found.answer).ok());
    let layouts = found.iter().flat_map(|found| {
        let layouts = found.outcome.layouts.iter();
        layouts.filter_map(|layout| Some((found.kept_layout(layout)?, None)))
    });
    Ok((layouts.collect(), true))
}

fn visit_lines(
    visit: &Visit,
    layouts: &[(&Layout, crate::calc::matching::Stock<'_>)],
    lengths: LengthFormat,
) -> VisitLines {
    let (heading, what) = match (visit.direction, visit.level) {
        (Direction::Rip, _) => (
            "Rip",
            "Set the fence once for each width and rip every section that needs it, the straight edge against the fence.",
        ),
        (Direction::Crosscut, 0) => (
            "Crosscut into sections",
            "Square one end first where it is rough. Set the stop once for each length.",
        ),
        (Direction::Crosscut, _) => (
            "Crosscut to length",
            "Set the stop once for each length; the shortest come last.",
        ),
    };
    let settings = visit
        .settings
        .iter()
        .map(|setting| SettingLine {
            size: lengths.show(setting.size),
            cuts: setting
                .cuts
                .iter()
                .map(|cut| {
                    format!(
                        "{} ({})",
                        layouts[cut.layout].0.stock,
                        words::counted(cut.parts as usize, "part", "parts")
                    )
                })
                .collect(),
            is_short: setting.cuts.iter().any(|cut| cut.held < SHORT),
        })
        .collect();
    VisitLines {
        heading,
        what,
        settings,
    }
}

fn steps(all: &StepsOf<'_>) -> Vec<StepSheet> {
    let mut shown: Vec<(&str, usize)> = Vec::new();
    all.needs
        .steps
        .iter()
        .enumerate()
        .map(|(place, step)| {
            let number = place + 1;
            let (mut new, mut at_top) = (Vec::new(), Vec::new());
            let mut before: BTreeMap<usize, Vec<&str>> = BTreeMap::new();
            for subject in step.cautions.iter().copied() {
                let earlier = shown.iter().find(|(known, _)| *known == subject);
                match earlier {
                    _ if EVERYWHERE.contains(&subject) => at_top.push(subject),
                    Some((_, number)) => before.entry(*number).or_default().push(subject),
                    None => new.push(subject),
                }
            }
            shown.extend(new.iter().map(|subject| (*subject, number)));
            let at_top =
                (!at_top.is_empty()).then(|| format!("{} (at the top)", words::listed(&at_top)));
            let before = before
                .iter()
                .map(|(number, about)| format!("{} (at step {number})", words::listed(about)));
            let as_before: Vec<String> = at_top.into_iter().chain(before).collect();
            let (says, drawings) = work(all, step);
            StepSheet {
                name: step.name.clone(),
                minutes: words::span(step.minutes),
                booked: booked(all, step),
                wait: step
                    .after
                    .iter()
                    .map(|after| after.min_gap)
                    .max()
                    .filter(|gap| gap.0 > 0)
                    .map(words::span),
                is_cutting: step.kind == StepKind::Mill,
                says,
                drawings,
                cautions: cautions_by_subject(&new),
                as_before: (!as_before.is_empty()).then(|| as_before.join(", ")),
            }
        })
        .collect()
}

/// `Tuesday 2 March 2027, 17:00 to 17:40`.
fn booked(all: &StepsOf<'_>, step: &Step) -> Option<String> {
    let booking = all
        .bookings
        .iter()
        .find(|booking| booking.step == step.key)?;
    let from = booking.from.to_zoned_datetime(all.zone.clone());
    let to = booking.to.to_zoned_datetime(all.zone.clone());
    let clock = |at: &jiff::ZonedDateTime| format!("{:02}:{:02}", at.hour(), at.minute());
    Some(if from.date() == to.date() {
        format!(
            "{}, {} to {}",
            words::day(from.date()),
            clock(&from),
            clock(&to)
        )
    } else {
        format!(
            "{}, {} to {}, {}",
            words::day(from.date()),
            clock(&from),
            words::day(to.date()),
            clock(&to)
        )
    })
}

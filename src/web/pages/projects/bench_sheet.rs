use std::collections::BTreeSet;

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use jiff::tz::TimeZone;
use serde_json::{Value, json};

use super::advised::{Advised, Fact, capital, cautions};
use super::cut_layout::{CutLayout, Numbering};
use super::drawn::Drawer;
use super::live::{NeedLine, WarningLine, need_lines, size_words, warning_line};
use super::opened::{Opened, flaw_words};
use super::path::{Head, Here};
use crate::app::advice::{self, ProjectAdvice};
use crate::app::{App, days};
use crate::calc::matching::{Direction, Layout, Visit, cut_order};
use crate::calc::shaping::Circle;
use crate::calc::work::{Design, Needs, Step, StepKind};
use crate::export::svg::{self, Drawing, Style};
use crate::store::booking::{self, Booking};
use crate::store::layout::{self, Source};
use crate::store::{ProjectId, offcut, workshop};
use crate::units::{Length, LengthFormat};
use crate::web::{Error, Member, Path, Section, Shell, page, words};
use crate::wire::kept_match::{KeptLayout, KeptMatch};

/// A strip that is shorter than this is clamped down for the last cut: a hand is 150 mm from the blade at least (common
/// practice, as the caution about crosscutting says).
const SHORT: Length = Length::from_inches(12, 1);

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
    first: Vec<Fact>,
    visits: Vec<VisitLines>,
    layouts: Vec<CutLayout>,
    /// The layouts are those of a match that nobody has claimed yet.
    is_only_matched: bool,
    steps: Vec<StepSheet>,
    has_templates: bool,
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
    cautions: Vec<Fact>,
    /// `as at step 1`, for cautions that stand there already.
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
    Ok(json!({
        "project": id,
        "name": opened.project.about.name,
        "finished": sheet.size,
        "flaws": sheet.flaws,
        "cautions": facts(&sheet.first),
        "is_claimed": !sheet.is_only_matched && !sheet.layouts.is_empty(),
        "visits": sheet.visits.iter().map(|visit| json!({
            "cut": visit.heading,
            "settings": visit.settings.iter().map(|setting| json!({
                "size": setting.size, "pieces": setting.cuts, "is_short": setting.is_short,
            })).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
        "pieces": sheet.layouts.iter().map(|layout| json!({
            "piece": layout.piece, "copies": layout.copies, "bin": layout.bin, "gives": layout.gives,
            "goes_back": layout.kept,
        })).collect::<Vec<_>>(),
        "steps": sheet.steps.iter().map(|step| json!({
            "name": step.name, "time": step.minutes, "booked": step.booked, "wait": step.wait,
            "says": facts(&step.says), "cautions": facts(&step.cautions), "cautions_as_before": step.as_before,
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
    let pairs: Vec<_> = kept
        .iter()
        .map(|kept| (&kept.layout, kept.stock()))
        .collect();
    let shop = kept.first().map_or(opened.basis.shop, |kept| kept.shop);
    let visits = cut_order(&pairs, &shop);
    sheet.visits = visits
        .iter()
        .map(|visit| visit_lines(visit, &pairs, lengths))
        .collect();
    let mut numbering = Numbering::new(id, Some(&needs));
    for (place, kept) in kept.iter().enumerate() {
        let labels = numbering.labels(&kept.layout, &kept.stock(), &kept.shop);
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
        sheet.layouts.push(shown);
    }

    let of = advice::of_project(&mut db, project, &needs, &opened.basis, &opened.settings).await?;
    let bookings = booking::list_of_project(&mut *db, id).await?;
    let advised = Advised::new(&of, &needs, &opened.basis.practice, lengths);
    // What the steps say themselves is said there, where the work is done.
    let with_steps = needs.cautions();
    let alone: Vec<&str> = of
        .advice
        .cautions
        .iter()
        .copied()
        .filter(|subject| !with_steps.contains(subject))
        .collect();
    sheet.first = cautions(&alone);
    sheet.steps = steps(&StepsOf {
        opened,
        drawer: &drawer,
        needs: &needs,
        of: &of,
        advised: &advised,
        bookings: &bookings,
        zone: &zone,
    });
    Ok(sheet)
}

/// What is claimed, in the order of the cuts; before that, what the match proposes.
async fn kept_layouts(
    db: &mut sqlx::SqliteConnection,
    opened: &Opened,
) -> Result<(Vec<KeptLayout>, bool), Error> {
    let id = opened.project.id;
    let mut kept = Vec::new();
    let own = layout::list_of_project(&mut *db, id).await?;
    let shared = layout::list_shared_with_project(&mut *db, id).await?;
    for stored in own.iter().chain(&shared) {
        let mut layout =
            KeptLayout::parse(&stored.cut).map_err(|error| Error::Internal(error.into()))?;
        if let Source::Bought(name) = &stored.source {
            layout.layout.stock.clone_from(name);
        }
        kept.push(layout);
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
        layouts.filter_map(|layout| found.kept_layout(layout))
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

/// Everything that the steps of a sheet are made from.
struct StepsOf<'a> {
    opened: &'a Opened,
    drawer: &'a Drawer<'a>,
    needs: &'a Needs,
    of: &'a ProjectAdvice,
    advised: &'a Advised,
    bookings: &'a [Booking],
    zone: &'a TimeZone,
}

fn steps(all: &StepsOf<'_>) -> Vec<StepSheet> {
    let mut shown: Vec<(&str, usize)> = Vec::new();
    all.needs
        .steps
        .iter()
        .enumerate()
        .map(|(place, step)| {
            let number = place + 1;
            let is_new = |subject: &&&str| shown.iter().all(|(known, _)| *known != **subject);
            let new: Vec<&str> = step.cautions.iter().filter(is_new).copied().collect();
            let before: BTreeSet<usize> = step
                .cautions
                .iter()
                .filter_map(|subject| shown.iter().find(|(known, _)| known == subject))
                .map(|(_, number)| *number)
                .collect();
            shown.extend(new.iter().map(|subject| (*subject, number)));
            let before: Vec<String> = before.iter().map(usize::to_string).collect();
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
                cautions: cautions(&new),
                as_before: (!before.is_empty())
                    .then(|| format!("as at step {}", words::listed(&before))),
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

fn said(text: impl Into<String>) -> Fact {
    Fact {
        text: text.into(),
        source: None,
        is_warning: false,
    }
}

fn copied(facts: &[Fact]) -> Vec<Fact> {
    facts
        .iter()
        .map(|fact| Fact {
            text: fact.text.clone(),
            source: fact.source.clone(),
            is_warning: fact.is_warning,
        })
        .collect()
}

/// What is done in a step, with its drawings.
fn work(all: &StepsOf<'_>, step: &Step) -> (Vec<Fact>, Vec<Drawing>) {
    let lengths = all.drawer.lengths;
    let needs = all.needs;
    let practice = &all.opened.basis.practice;
    match step.kind {
        StepKind::Mill => (
            vec![said(
                "Cut the pieces in the order below, and number the strips as they come off the saw.",
            )],
            Vec::new(),
        ),
        StepKind::DryFit => (
            vec![said(
                "Lay the parts together without glue, in their order, cauls and clamps set to size. Draw a triangle over all seams.",
            )],
            Vec::new(),
        ),
        StepKind::GlueUp => glue_up(all, step),
        StepKind::Unclamp => (
            vec![said(format!(
                "Clamps off after {} at the earliest; scrape the squeeze-out off before it meets sandpaper or a planer.",
                words::span(practice.gluing.clamped)
            ))],
            Vec::new(),
        ),
        StepKind::CutSlices => slices(all),
        StepKind::Square => (
            vec![said(format!("To {}.", size_words(needs.finished, lengths)))],
            Vec::new(),
        ),
        StepKind::RouteDisc | StepKind::RouteRing => circle(all, step.kind),
        StepKind::RoundOverAndSand => (copied(&all.advised.sanding), Vec::new()),
        StepKind::Coat if step.key == "coat-1" => (copied(&all.advised.finish), Vec::new()),
        StepKind::Cure => (
            vec![said(format!(
                "No water and no food for {} after the last coat.",
                words::span(practice.finish.water_after)
            ))],
            Vec::new(),
        ),
        _ => (Vec::new(), Vec::new()),
    }
}

fn glue_up(all: &StepsOf<'_>, step: &Step) -> (Vec<Fact>, Vec<Drawing>) {
    let Some(place) = step.panel else {
        return (Vec::new(), Vec::new());
    };
    let panel = &all.needs.panels[place];
    let mut says = Vec::new();
    says.extend(copied(&all.advised.gluing));
    let advice = all
        .of
        .advice
        .panels
        .iter()
        .find(|advice| advice.panel == panel.name);
    if let Some(advice) = advice {
        says.extend(Advised::of_panel(
            advice,
            all.of,
            all.needs,
            all.drawer.lengths,
        ));
    }
    says.push(said(format!(
        "Glue on {} only, none on the outer faces. Tighten from the middle outwards, a little at a time.",
        words::counted(panel.glue_lines(), "line", "lines")
    )));
    let drawing = all
        .drawer
        .with(&format!("glue{place}"), Style::PHONE, |style| {
            let opened = all.opened;
            svg::glue_up(
                style,
                &opened.design,
                all.needs,
                place,
                &opened.basis.practice,
            )
        });
    (says, drawing.into_iter().collect())
}

fn slices(all: &StepsOf<'_>) -> (Vec<Fact>, Vec<Drawing>) {
    let Design::EndGrainBoard(board) = &all.opened.design else {
        return (Vec::new(), Vec::new());
    };
    let lengths = all.drawer.lengths;
    let layout = board.layout(&all.opened.basis.practice, &all.opened.basis.shop);
    (
        vec![
            said(format!(
                "Square one end of the panel, set the stop to {} and cut {}; {} of the panel's {} go into kerfs.",
                lengths.show(layout.slice_thickness),
                words::counted(board.slices as usize, "slice", "slices"),
                lengths.show(layout.kerfs),
                lengths.show(layout.panel_length),
            )),
            said(format!(
                "Keep at least {} of the panel to hold the last slice by. Number the slices as they come, turn each onto its cut face, and treat every second one as drawn.",
                lengths.show(layout.end_piece)
            )),
        ],
        Vec::new(),
    )
}

fn circle(all: &StepsOf<'_>, kind: StepKind) -> (Vec<Fact>, Vec<Drawing>) {
    let Design::RoundTray(tray) = &all.opened.design else {
        return (Vec::new(), Vec::new());
    };
    let Ok(layout) = tray.layout(&all.opened.basis.practice) else {
        return (Vec::new(), Vec::new());
    };
    let lengths = all.drawer.lengths;
    let passes = |depths: &[Length]| {
        let depths: Vec<String> = depths.iter().map(|depth| lengths.show(*depth)).collect();
        format!(
            "{}: {}.",
            capital(&words::counted(depths.len(), "pass", "passes")),
            words::listed(&depths)
        )
    };
    let mut says = Vec::new();
    if kind == StepKind::RouteDisc {
        says.push(said(format!(
            "Pivot to the near edge of the bit {}, to its middle {}: the bit runs outside the line. The same pivot hole serves both discs.",
            lengths.show(layout.base.outside.to_near_edge),
            lengths.show(layout.base.outside.to_bit_centre),
        )));
        says.push(said(passes(&layout.base.passes)));
        says.push(said(format!(
            "The blank is at least {} square with the bit's whole kerf around the disc; {} is the bare least, and then the bit runs off the wood.",
            lengths.show(layout.blank_at_least),
            lengths.show(layout.bare_blank),
        )));
    } else if let Some(inside) = layout.ring.inside {
        says.push(said(format!(
            "Pivot to the near edge of the bit {}, to its middle {}: the bit runs inside the line.",
            lengths.show(inside.to_near_edge),
            lengths.show(inside.to_bit_centre),
        )));
        says.push(said(format!(
            "Measured from the wrong edge of the bit the rim comes out {} instead of {}.",
            lengths.show(layout.rim_by_wrong_edge),
            lengths.show(tray.rim)
        )));
        says.push(said(passes(&layout.ring.passes)));
        says.push(said(
            "Hold the ring and the round inside it before the last pass.",
        ));
    }
    let (thickness, cuts, rim) = if kind == StepKind::RouteDisc {
        (tray.base_thickness, &layout.base, None)
    } else {
        (tray.ring_thickness, &layout.ring, Some(tray.rim))
    };
    let circle = Circle {
        diameter: tray.diameter,
        rim,
        bit: tray.bit,
        thickness,
        depth_per_pass: all.opened.basis.practice.shaping.depth_per_pass,
    };
    let prefix = if rim.is_some() { "ring" } else { "disc" };
    let drawing = all.drawer.with(prefix, Style::PHONE, |style| {
        svg::router_circle(style, &circle, cuts)
    });
    (says, vec![drawing])
}

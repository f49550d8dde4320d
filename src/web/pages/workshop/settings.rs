//! What stewards set, a form for each part, and how each is read. All parts share one version.

use axum::extract::State;
use axum::response::Response;

use super::air;
use super::form::{Field, FormPage, Group, refuse_all, version_of};
use super::practice;
use crate::app::settings::{self, Draft, LONGEST_CLAIM, label_stock};
use crate::app::species::Woods;
use crate::app::{App, days};
use crate::export::pdf::LabelStock;
use crate::reference::WoodKind;
use crate::store::offcut::list_species;
use crate::store::settings::{Labels, MaterialPrices};
use crate::store::{Refusal, species, workshop};
use crate::units::{Length, LengthFormat, Money};
use crate::web::{Error, Flash, Path, Routes, Shell, Steward, Typed, Who, line, see_other};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/workshop/settings", Who::Steward, edit_general)
        .post("/workshop/settings", Who::Steward, update_general)
        .get("/workshop/settings/{part}", Who::Steward, edit)
        .post("/workshop/settings/{part}", Who::Steward, update)
}

/// A part of the settings that has its own form.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Part {
    General,
    Air,
    Cutting,
    Prices,
    Practice,
    Steps,
}

const PARTS: [(Part, &str, &str); 6] = [
    (Part::General, "The workshop", "/workshop/settings"),
    (Part::Air, "Air", "/workshop/settings/air"),
    (Part::Cutting, "Cutting", "/workshop/settings/cutting"),
    (Part::Prices, "Prices", "/workshop/settings/prices"),
    (
        Part::Practice,
        "Glue and finish",
        "/workshop/settings/practice",
    ),
    (Part::Steps, "Minutes", "/workshop/settings/steps"),
];

fn part_of(word: &str) -> Result<Part, Error> {
    PARTS
        .iter()
        .find(|(_, _, path)| path.strip_prefix("/workshop/settings/") == Some(word))
        .map(|(part, _, _)| *part)
        .ok_or_else(|| Error::NotFound("There is nothing at this address.".into()))
}

/// What a form needs to know besides the settings themselves.
struct Known {
    version: i64,
    zone: jiff::tz::TimeZone,
    draft: Draft,
    /// Species that lie in the bins or have a price, hardwoods first, with their price.
    prices: Vec<(String, Option<Money>)>,
    lengths: LengthFormat,
}

impl Known {
    async fn load(app: &App, lengths: LengthFormat) -> Result<Known, Error> {
        let workshop = workshop::get(app.store.read()).await?;
        let priced = species::list_prices(app.store.read()).await?;
        let at_hand = list_species(app.store.read()).await?;
        let woods = Woods::load(app.store.read()).await?;
        let mut known: Vec<_> = woods.list().iter().collect();
        known.sort_by_key(|wood| (wood.kind != WoodKind::Hardwood, wood.name.to_lowercase()));
        let is = |name: &str, other: &str| name.eq_ignore_ascii_case(other);
        let prices = known
            .iter()
            .map(|wood| {
                let price = priced
                    .iter()
                    .find(|(name, _)| is(name, &wood.name))
                    .map(|(_, price)| *price);
                (wood.name.clone(), price)
            })
            .filter(|(name, price)| price.is_some() || at_hand.iter().any(|here| is(here, name)))
            .collect();
        Ok(Known {
            version: workshop.version,
            zone: workshop.time_zone.clone(),
            draft: Draft::of(&workshop),
            prices,
            lengths,
        })
    }
}

/// The field of a species' price.
fn price_field(species: &str) -> String {
    format!("price-{}", species.replace(' ', "-"))
}

fn groups(part: Part, known: &Known) -> Vec<Group> {
    match part {
        Part::General => general(),
        Part::Air => air::groups(&known.draft.settings.air),
        Part::Cutting => cutting(known.lengths),
        Part::Prices => prices(known),
        Part::Practice => practice::groups(&known.draft.settings.practice, known.lengths),
        Part::Steps => practice::step_groups(),
    }
}

fn general() -> Vec<Group> {
    let stocks = LabelStock::COMMON
        .iter()
        .enumerate()
        .map(|(place, stock)| (place.to_string(), stock.name()))
        .collect();
    vec![
        Group {
            heading: "",
            says: String::new(),
            fields: vec![
                Field::line("name", "Name of the workshop"),
                Field::line("time_zone", "Time zone")
                    .hint("By the name of a place: America/New_York, Europe/Paris."),
                Field::whole("claim_days", "Days that a claim lasts")
                    .hint("Then the piece is free again, unless the claim was made longer."),
                Field::choice("labels", "Labels are printed on", stocks),
            ],
        },
        Group {
            heading: "Who sees what",
            says: String::new(),
            fields: vec![
                Field::tick(
                    "guests_may_look",
                    "Guests may look at bins, hours and the reference",
                )
                .hint("Without it, only members see anything."),
                Field::tick(
                    "members_see_users",
                    "Members see in the ledger who used how much of the shared wood",
                ),
                Field::tick(
                    "notices_inside",
                    "Notices may be posted to addresses inside the workshop's own network",
                )
                .hint("Leave it off unless a machine of the workshop listens: the program could be made to call others there."),
            ],
        },
    ]
}

fn cutting(lengths: LengthFormat) -> Vec<Group> {
    let usual = crate::store::settings::Cutting::default();
    let say = |length: Length| format!("Usual: {}.", lengths.show(length));
    vec![
        Group {
            heading: "Kerfs and trims",
            says: "Measure a kerf in scrap: it is what the saw turns to dust.".to_owned(),
            fields: vec![
                Field::line("rip_kerf", "Kerf when ripping").hint(say(usual.rip_kerf)),
                Field::line("crosscut_kerf", "Kerf when crosscutting").hint(say(usual.crosscut_kerf)),
                Field::line("edge_trim", "Edge trim").hint(format!(
                    "Off one edge of a piece that is not straight yet. {}",
                    say(usual.edge_trim)
                )),
                Field::line("end_trim", "End trim").hint(format!(
                    "Off each end that is not square yet. {}",
                    say(usual.end_trim)
                )),
                Field::line("min_rip_length", "Shortest section that is ripped").hint(format!(
                    "A shorter piece is not safe on a rip saw. {}",
                    say(usual.min_rip_length)
                )),
            ],
        },
        Group {
            heading: "Remainders worth keeping",
            says: "What is smaller is waste; what is kept counts partly as not used, so that a match leaves useful pieces."
                .to_owned(),
            fields: vec![
                Field::line("keep_length", "Length at least").hint(say(usual.keep_length)),
                Field::line("keep_width", "Width at least").hint(say(usual.keep_width)),
                Field::decimal("keep_credit", "Share that counts as not used, per cent").hint(format!(
                    "Usual: {} %.",
                    percent(usual.keep_credit_thousandths)
                )),
            ],
        },
    ]
}

/// The fields of what is paid for besides wood.
fn materials(prices: &mut MaterialPrices) -> [(&'static str, &mut i64); 3] {
    [
        ("price_of_glue", &mut prices.glue_cents),
        ("price_of_abrasive", &mut prices.abrasive_cents),
        ("price_of_finish", &mut prices.finish_cents),
    ]
}

fn percent(thousandths: u16) -> String {
    format!("{}", f64::from(thousandths) / 10.0)
}

fn prices(known: &Known) -> Vec<Group> {
    let mut groups = vec![Group {
        heading: "",
        says: String::new(),
        fields: vec![
            Field::decimal("price", "A board foot from the bins").hint("0 if shared wood is free."),
            Field::decimal("price_of_glue", "A kilogram of glue")
                .optional()
                .hint("0 if members bring their own."),
            Field::decimal("price_of_abrasive", "Sandpaper for a square metre of board")
                .optional()
                .hint("Through all grits; 0 if nobody counts it."),
            Field::decimal("price_of_finish", "A litre of finish").optional(),
        ],
    }];
    let fields: Vec<Field> = known
        .prices
        .iter()
        .map(|(name, _)| Field::decimal(price_field(name), name).optional())
        .collect();
    if !fields.is_empty() {
        groups.push(Group {
            heading: "Species with a price of their own",
            says: "A board foot each. Empty: the price above.".to_owned(),
            fields,
        });
    }
    groups
}

fn fill(part: Part, known: &Known) -> Typed {
    let settings = &known.draft.settings;
    let show = |length: Length| known.lengths.show_exact(length);
    let ticked = |name: &str, is_on: bool| is_on.then(|| (name.to_owned(), "yes".to_owned()));
    let value = |name: &str, text: String| Some((name.to_owned(), text));
    let mut values: Vec<Option<(String, String)>> =
        vec![value("version", known.version.to_string())];
    match part {
        Part::General => {
            values.extend([
                value("name", known.draft.name.clone()),
                value("time_zone", known.draft.time_zone.clone()),
                value("claim_days", settings.claim_days.to_string()),
                value("labels", label_stock(&settings.labels).to_string()),
                ticked("guests_may_look", settings.guests_may_look),
                ticked("members_see_users", settings.members_see_users),
                ticked("notices_inside", settings.notices_inside),
            ]);
        }
        Part::Air => values.extend(air::fill(&settings.air).into_iter().map(Some)),
        Part::Cutting => {
            let cutting = &settings.cutting;
            values.extend([
                value("rip_kerf", show(cutting.rip_kerf)),
                value("crosscut_kerf", show(cutting.crosscut_kerf)),
                value("edge_trim", show(cutting.edge_trim)),
                value("end_trim", show(cutting.end_trim)),
                value("min_rip_length", show(cutting.min_rip_length)),
                value("keep_length", show(cutting.keep_length)),
                value("keep_width", show(cutting.keep_width)),
                value("keep_credit", percent(cutting.keep_credit_thousandths)),
            ]);
        }
        Part::Prices => {
            values.push(value("price", settings.price_per_board_foot().to_string()));
            for (field, cents) in materials(&mut settings.materials.clone()) {
                values.push(value(field, Money::from_cents(*cents).to_string()));
            }
            for (name, price) in &known.prices {
                let price = price.map_or_else(String::new, |price| price.to_string());
                values.push(value(&price_field(name), price));
            }
        }
        Part::Practice => {
            let filled = practice::fill(&settings.practice, &settings.grits, known.lengths);
            values.extend(filled.into_iter().map(Some));
        }
        Part::Steps => values.extend(
            practice::fill_steps(&settings.practice)
                .into_iter()
                .map(Some),
        ),
    }
    let values: Vec<(String, String)> = values.into_iter().flatten().collect();
    Typed::filled(
        values
            .iter()
            .map(|(name, value)| (name.as_str(), value.clone())),
    )
}

pub(super) fn parse_percent(text: &str) -> Result<f64, String> {
    let shown: String = text.chars().take(30).collect();
    text.trim_end_matches('%')
        .trim()
        .parse::<f64>()
        .ok()
        .filter(|percent| (0.0..=100.0).contains(percent))
        .ok_or_else(|| format!("is \"{shown}\"; must be a per cent from 0 to 100"))
}

/// The settings with what the form says; what is wrong stands beside its field.
fn read(part: Part, typed: &mut Typed, known: &Known, today: jiff::civil::Date) -> Option<Draft> {
    let mut draft = known.draft.clone();
    let is_read = match part {
        Part::General => read_general(typed, &mut draft),
        Part::Air => {
            let before = draft.settings.air.len();
            air::read(typed, before, today).map(|readings| draft.settings.air = readings)
        }
        Part::Cutting => read_cutting(typed, &mut draft, known.lengths),
        Part::Prices => read_prices(typed, &mut draft, known),
        Part::Practice => practice::read(typed, &mut draft.settings, known.lengths),
        Part::Steps => practice::read_steps(typed, &mut draft.settings.practice),
    };
    if is_read.is_some() && typed.is_fine() {
        refuse_all(typed, settings::flaws(&draft, known.lengths));
    }
    typed.is_fine().then_some(draft)
}

fn read_general(typed: &mut Typed, draft: &mut Draft) -> Option<()> {
    let name = typed.take("name", |text| line(text, 120));
    let settings = &mut draft.settings;
    let claim_days = typed.take("claim_days", |text| {
        let shown: String = text.chars().take(30).collect();
        text.parse::<u16>()
            .ok()
            .filter(|days| (1..=LONGEST_CLAIM).contains(days))
            .ok_or_else(|| {
                format!("is \"{shown}\"; must be a whole number from 1 to {LONGEST_CLAIM}")
            })
    });
    let stock = typed.take("labels", |text| {
        text.parse::<usize>()
            .ok()
            .and_then(|place| LabelStock::COMMON.get(place))
            .ok_or("is not chosen; must be one of the list")
    });
    settings.guests_may_look = typed.is_ticked("guests_may_look");
    settings.members_see_users = typed.is_ticked("members_see_users");
    settings.notices_inside = typed.is_ticked("notices_inside");
    let stock = stock?;
    settings.labels = Labels {
        paper: stock.paper.name().to_owned(),
        columns: u16::try_from(stock.columns).ok()?,
        rows: u16::try_from(stock.rows).ok()?,
    };
    settings.claim_days = claim_days?;
    draft.time_zone = typed.text("time_zone").to_owned();
    draft.name = name?;
    Some(())
}

fn read_cutting(typed: &mut Typed, draft: &mut Draft, lengths: LengthFormat) -> Option<()> {
    let mut size = |name: &str| typed.take(name, |text| Length::parse(text, Some(lengths.unit())));
    let rip_kerf = size("rip_kerf");
    let crosscut_kerf = size("crosscut_kerf");
    let edge_trim = size("edge_trim");
    let end_trim = size("end_trim");
    let min_rip_length = size("min_rip_length");
    let keep_length = size("keep_length");
    let keep_width = size("keep_width");
    let keep_credit = typed.take("keep_credit", parse_percent);
    draft.settings.cutting = crate::store::settings::Cutting {
        rip_kerf: rip_kerf?,
        crosscut_kerf: crosscut_kerf?,
        edge_trim: edge_trim?,
        end_trim: end_trim?,
        min_rip_length: min_rip_length?,
        keep_length: keep_length?,
        keep_width: keep_width?,
        keep_credit_thousandths: (keep_credit? * 10.0).round() as u16,
    };
    Some(())
}

fn read_prices(typed: &mut Typed, draft: &mut Draft, known: &Known) -> Option<()> {
    let price = typed.take("price", Money::parse);
    for (field, cents) in materials(&mut draft.settings.materials) {
        // A form without the field leaves the price as it is.
        let is_there = typed.is_ticked(field);
        if let (true, Some(price)) = (is_there, typed.take_if_any(field, Money::parse)) {
            *cents = price.map_or(0, Money::cents);
        }
    }
    for (name, before) in &known.prices {
        let field = price_field(name);
        // A species that came into the bins after the form was made has no field in it.
        if !typed.is_ticked(&field) {
            continue;
        }
        if let Some(price) = typed.take_if_any(&field, Money::parse)
            && price != *before
        {
            draft.prices.push((name.clone(), price));
        }
    }
    draft.settings.price_per_board_foot_cents = price?.cents();
    Some(())
}

fn form(shell: Shell, part: Part, known: &Known, typed: Typed) -> FormPage {
    let lead = match part {
        Part::General => "",
        Part::Air => {
            "Readings by place and season. The newest in the workshop is the air that glue and offcuts are in now; how much a piece moves is reckoned between the driest and the dampest of all."
        }
        Part::Cutting => {
            "What saws take and what is worth keeping. Every match of today on is reckoned with it."
        }
        Part::Prices => "What members pay for shared wood. A project's cost is reckoned with it.",
        Part::Practice => {
            "Where this workshop differs from common practice. An empty field keeps the usual figure; a project may differ again."
        }
        Part::Steps => {
            "What a step takes here. An empty field keeps the usual figure. Steps that are booked already stay as they are."
        }
    };
    let path = PARTS
        .iter()
        .find(|(other, _, _)| *other == part)
        .map_or("", |(_, _, path)| path);
    let beside = PARTS
        .iter()
        .map(|(other, words, path)| (*words, *path, *other == part))
        .collect();
    FormPage::new(shell, "Settings", groups(part, known), typed)
        .lead(lead)
        .beside(beside)
        .between(path, "/workshop")
}

async fn show_part(app: &App, shell: Shell, part: Part) -> Result<Response, Error> {
    let known = Known::load(app, shell.lengths()).await?;
    form(shell, part, &known, fill(part, &known)).show()
}

async fn update_part(
    app: &App,
    shell: Shell,
    caller: &crate::app::Caller,
    part: Part,
    mut typed: Typed,
) -> Result<Response, Error> {
    let known = Known::load(app, shell.lengths()).await?;
    let today = days::day_of(app.clock.now(), &known.zone);
    let draft = read(part, &mut typed, &known, today);
    let Some(draft) = draft else {
        return form(shell, part, &known, typed).again();
    };
    let mut db = app.store.begin().await?;
    match settings::save(&mut db, app.by(caller), version_of(&typed), &draft).await {
        Ok(()) => {
            db.commit().await?;
            let path = PARTS
                .iter()
                .find(|(other, _, _)| *other == part)
                .map_or("/workshop", |(_, _, path)| path);
            Ok(see_other(path)
                .saying(Flash::done("It is saved and holds from now on."))
                .response(app))
        }
        Err(Refusal::Stale) => {
            drop(db);
            let newer = Known::load(app, shell.lengths()).await?;
            let mut yours = Known::load(app, shell.lengths()).await?;
            for (name, price) in &draft.prices {
                if let Some(row) = yours.prices.iter_mut().find(|(other, _)| other == name) {
                    row.1 = *price;
                }
            }
            yours.draft = draft;
            form(shell, part, &newer, typed).stale(&fill(part, &newer), &fill(part, &yours))
        }
        Err(other) => Err(other.into()),
    }
}

async fn edit_general(State(app): State<App>, shell: Shell) -> Result<Response, Error> {
    show_part(&app, shell, Part::General).await
}

async fn update_general(
    State(app): State<App>,
    shell: Shell,
    Steward(caller): Steward,
    typed: Typed,
) -> Result<Response, Error> {
    update_part(&app, shell, &caller, Part::General, typed).await
}

async fn edit(
    State(app): State<App>,
    shell: Shell,
    Path(part): Path<String>,
) -> Result<Response, Error> {
    show_part(&app, shell, part_of(&part)?).await
}

async fn update(
    State(app): State<App>,
    shell: Shell,
    Steward(caller): Steward,
    Path(part): Path<String>,
    typed: Typed,
) -> Result<Response, Error> {
    update_part(&app, shell, &caller, part_of(&part)?, typed).await
}

//! Hours, bins, clamps, boards for sale and some two hundred offcuts.

use jiff::ToSpan as _;
use jiff::civil::Date;

use super::{Dice, days_ago};
use crate::app::{App, days, offcut};
use crate::store::bin::{self, NewBin};
use crate::store::lumber::{self, NewLumber, Sale};
use crate::store::offcut::{GrowthRings, NewOffcut, Unusable};
use crate::store::opening::{self, ClosedDays, ExtraHours, WeeklyHours};
use crate::store::resource::{self, NewResource, ResourceKind};
use crate::store::settings::{AirReading, HERE, MaterialPrices, Season};
use crate::store::{BinId, MemberId, species, workshop};
use crate::units::{Length, Money};

const SEED: u64 = 0x5eed_0f0a_4b0a_4d05;
const N_OFFCUTS: usize = 200;
/// How long ago the first piece came.
const DAYS_OF_HISTORY: i64 = 420;

const BINS: [(&str, &str); 7] = [
    ("Pale long", "left wall, upper shelf"),
    ("Pale short", "left wall, lower shelf"),
    ("Dark long", "right wall, upper shelf"),
    ("Dark short", "right wall, lower shelf"),
    ("Reds and cherry", "beside the saw"),
    ("Dressed sticks", "upright rack by the door"),
    ("Odd and open-grained", "crate under the window"),
];

/// Species, how often it turns up in ten, and its bins for long and for short pieces.
const SPECIES: [(&str, u64, usize, usize); 9] = [
    ("hard maple", 10, 0, 1),
    ("black walnut", 9, 2, 3),
    ("black cherry", 8, 4, 4),
    ("yellow birch", 4, 0, 1),
    ("American beech", 4, 0, 1),
    ("purpleheart", 3, 4, 4),
    ("red oak", 3, 6, 6),
    ("white ash", 2, 6, 6),
    ("sapele", 3, 2, 3),
];

/// Dressed thicknesses of hardwood quarters after planing, and rough ones: sixteenths of an inch.
const THICKNESSES: [i64; 6] = [12, 12, 13, 16, 21, 28];

pub(super) async fn fill(app: &App, members: &[MemberId]) -> anyhow::Result<()> {
    let steward = members[0];
    let start = days_ago(app, steward, DAYS_OF_HISTORY);
    let mut db = app.store.begin().await?;

    let before = workshop::get(&mut *db).await?;
    let zone = "America/New_York";
    let mut settings = before.settings.clone();
    settings.guests_may_look = true;
    settings.price_per_board_foot_cents = 350;
    settings.materials = MaterialPrices {
        glue_cents: 1400,
        abrasive_cents: 250,
        finish_cents: 3800,
    };
    settings.air = air(days::day_of(app.clock.now(), &before.time_zone));
    workshop::update(
        &mut db,
        start,
        before.version,
        "Sparrow Yard Workshop",
        zone,
        &settings,
    )
    .await?;
    for (name, cents) in [("black walnut", 600), ("purpleheart", 750)] {
        species::set_price(&mut db, start, name, Some(Money::from_cents(cents))).await?;
    }

    let today = days::day_of(app.clock.now(), &workshop::get(&mut *db).await?.time_zone);
    hours(&mut db, start, today).await?;
    for resource in resources() {
        resource::create(&mut db, start, &resource).await?;
    }
    for board in boards() {
        lumber::create(&mut db, start, &board).await?;
    }
    let mut bins = Vec::new();
    for (name, place) in BINS {
        let new = NewBin {
            name: name.to_owned(),
            place: place.to_owned(),
        };
        bins.push(bin::create(&mut db, start, &new).await?);
    }
    let mut dice = Dice(SEED);
    for nth in 0..N_OFFCUTS {
        let age = DAYS_OF_HISTORY - DAYS_OF_HISTORY * nth as i64 / N_OFFCUTS as i64;
        let member = members[dice.below(members.len() as u64) as usize];
        let piece = piece(&mut dice, &bins);
        offcut::add(&mut db, days_ago(app, member, age), &piece, None).await?;
    }
    db.commit().await?;
    Ok(())
}

/// The workshop in four seasons, the one of today read two days ago, and a kitchen in winter.
fn air(today: Date) -> Vec<AirReading> {
    let reading =
        |place: &str, season, temperature_c, relative_humidity_percent, days_ago: i64| AirReading {
            place: place.to_owned(),
            season,
            temperature_c,
            relative_humidity_percent,
            read_on: today - days_ago.days(),
        };
    let mut seasons = [
        (Season::Winter, 18.5, 34.0),
        (Season::Spring, 19.5, 44.0),
        (Season::Summer, 24.0, 62.0),
        (Season::Autumn, 20.0, 45.0),
    ];
    // December to February is winter in the yard.
    seasons.rotate_left(usize::from(today.month().unsigned_abs() % 12) / 3);
    let mut readings: Vec<AirReading> = seasons
        .into_iter()
        .enumerate()
        .map(|(later, (season, celsius, percent))| {
            let before_today = if later == 0 {
                2
            } else {
                365 - 91 * later as i64
            };
            reading(HERE, season, celsius, percent, before_today)
        })
        .collect();
    readings.push(reading("kitchen", Season::Winter, 21.0, 29.0, 300));
    readings
}

async fn hours(
    db: &mut sqlx::SqliteConnection,
    by: crate::store::By,
    today: Date,
) -> anyhow::Result<()> {
    let from_day = today - 500.days();
    // Weekday, opens, closes, whether a steward is on duty at the machines.
    for (weekday, from_minute, to_minute, machines) in [
        (2, 18 * 60, 21 * 60 + 30, true),
        (3, 16 * 60, 21 * 60, false),
        (4, 18 * 60, 21 * 60 + 30, true),
        (6, 10 * 60, 17 * 60, true),
        (7, 13 * 60, 17 * 60, false),
    ] {
        let hours = WeeklyHours {
            weekday,
            from_minute,
            to_minute,
            machines,
            from_day,
            to_day: None,
        };
        opening::create_weekly(db, by, &hours).await?;
    }
    opening::create_closure(
        db,
        by,
        &ClosedDays {
            from_day: today + 19.days(),
            to_day: today + 21.days(),
            reason: "floor is oiled".to_owned(),
        },
    )
    .await?;
    opening::create_extra(
        db,
        by,
        &ExtraHours {
            on_day: today + 9.days(),
            from_minute: 17 * 60,
            to_minute: 22 * 60,
            machines: true,
            note: "late evening before the winter fair".to_owned(),
        },
    )
    .await?;
    Ok(())
}

fn resources() -> Vec<NewResource> {
    let plain = |kind, name: &str, capacity| NewResource {
        kind,
        name: name.to_owned(),
        capacity,
        reach: None,
        rated_force_n: None,
        pass_width: None,
    };
    let clamps = |name: &str, capacity, reach, force| NewResource {
        reach: Some(Length::from_inches(reach, 1)),
        rated_force_n: Some(force),
        ..plain(ResourceKind::ClampSet, name, capacity)
    };
    let pass = |kind, name: &str, width| NewResource {
        pass_width: Some(Length::from_inches(width, 1)),
        ..plain(kind, name, 1)
    };
    vec![
        clamps("short bar clamps", 10, 12, 3500),
        clamps("bar clamps", 12, 24, 4500),
        clamps("long pipe clamps", 6, 36, 4500),
        plain(ResourceKind::GlueBench, "glue bench", 2),
        plain(ResourceKind::TableSaw, "table saw", 1),
        plain(ResourceKind::CrosscutSaw, "crosscut saw", 1),
        pass(ResourceKind::Planer, "planer", 13),
        pass(ResourceKind::DrumSander, "drum sander", 16),
        plain(ResourceKind::Sander, "orbital sander", 3),
        plain(ResourceKind::RouterTable, "router table", 1),
        plain(ResourceKind::Router, "hand router", 2),
        plain(ResourceKind::Jigsaw, "jigsaw", 2),
        plain(ResourceKind::DrillPress, "drill press", 1),
        plain(ResourceKind::WorkBench, "work bench", 4),
        plain(ResourceKind::RackPlace, "drying rack place", 8),
    ]
}

fn boards() -> Vec<NewLumber> {
    let board = |name: &str, species: &str, length, width, sixteenths, cents| NewLumber {
        name: name.to_owned(),
        species: species.to_owned(),
        length: Length::from_inches(length, 1),
        width: Length::from_inches(width, 1),
        thickness: Length::from_inches(sixteenths, 16),
        price: Money::from_cents(cents),
        sale: Sale::Whole,
        square_ends: false,
        straight_edges: true,
    };
    vec![
        board("maple 4/4 x 5", "hard maple", 48, 5, 13, 1450),
        board("maple 8/4 x 6", "hard maple", 48, 6, 28, 3100),
        board("walnut 4/4 x 5", "black walnut", 48, 5, 13, 2380),
        board("walnut 8/4 x 6", "black walnut", 48, 6, 28, 4890),
        board("cherry 4/4 x 5", "black cherry", 48, 5, 13, 1720),
        board("cherry 8/4 x 6", "black cherry", 48, 6, 28, 3650),
        // Rough from the yard, by the board foot, and cut to whole feet for whoever asks.
        NewLumber {
            sale: Sale::BoardFoot {
                quarters: Some(8),
                in_parts: true,
            },
            straight_edges: false,
            ..board("cherry 8/4 x 8, rough", "black cherry", 96, 8, 32, 1150)
        },
    ]
}

/// One piece, or a few equal ones, as they come from the saw: mostly short, some dressed, some with a bad end.
fn piece(dice: &mut Dice, bins: &[BinId]) -> NewOffcut {
    let chances: u64 = SPECIES.iter().map(|species| species.1).sum();
    let mut draw = dice.below(chances);
    let (species, _, long_bin, short_bin) = *SPECIES
        .iter()
        .find(|species| {
            let found = draw < species.1;
            draw = draw.saturating_sub(species.1);
            found
        })
        .unwrap_or(&SPECIES[0]);
    let is_dressed = dice.one_in(6);
    let is_long = dice.one_in(3);
    // In sixteenths of an inch.
    let length = if is_long {
        dice.between(26 * 16, 52 * 16)
    } else {
        dice.between(10 * 16, 26 * 16)
    };
    let (width, thickness) = if is_dressed {
        (24 + 16 * dice.between(0, 2), 12)
    } else {
        (
            dice.between(20, 7 * 16),
            THICKNESSES[dice.below(THICKNESSES.len() as u64) as usize],
        )
    };
    let sixteenths = |count| Length::from_inches(count, 16);
    let unusable = if dice.one_in(5) && length > 12 * 16 {
        let bad = dice.between(8, 40);
        let why = ["split", "knot", "worm holes", "old glue"][dice.below(4) as usize];
        vec![Unusable {
            from: sixteenths(length - bad),
            to: sixteenths(length),
            why: why.to_owned(),
        }]
    } else {
        Vec::new()
    };
    let bin = if is_dressed {
        5
    } else if is_long {
        long_bin
    } else {
        short_bin
    };
    NewOffcut {
        species: species.to_owned(),
        length: sixteenths(length),
        width: sixteenths(width),
        thickness: sixteenths(thickness),
        count: if is_dressed {
            u32::try_from(dice.between(1, 4)).unwrap_or(1)
        } else {
            1
        },
        unusable,
        square_ends: is_dressed && dice.one_in(2),
        straight_edges: is_dressed,
        growth_rings: [
            GrowthRings::FlatSawn,
            GrowthRings::Unknown,
            GrowthRings::QuarterSawn,
        ][dice.below(3) as usize],
        moisture_milli: dice.one_in(4).then(|| dice.between(65, 98) * 100),
        bin: bins[bin],
        note: String::new(),
    }
}

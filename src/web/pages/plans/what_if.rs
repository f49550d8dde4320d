//! What if there were one more opening, more clamps, or a coat less: the part of a form that asks it, and how much a date
//! gains by it. The dates of one project ask, and so does the page that plans several.

use jiff::Timestamp;
use jiff::civil::{Date, Time};

use super::of_project::Ground;
use crate::app::days::instant_of;
use crate::app::planning::Suppose;
use crate::store::resource::ResourceKind;
use crate::store::{ProjectId, ResourceId};
use crate::units::Minutes;
use crate::web::{Typed, words};

/// The most clamps or coats that are supposed.
const MOST_MORE: u32 = 50;

/// What the form offers.
pub(super) struct Offered {
    pub clamps: Vec<(String, String)>,
    pub coats: Vec<(String, String)>,
    pub today: String,
}

impl Offered {
    pub fn new(ground: &Ground) -> Offered {
        let none = || (String::new(), "none".to_owned());
        let sets = ground
            .resources
            .iter()
            .filter(|known| known.about.kind == ResourceKind::ClampSet)
            .map(|set| (set.id.to_string(), set.about.name.clone()));
        Offered {
            clamps: [none()].into_iter().chain(sets).collect(),
            coats: vec![
                none(),
                ("1".to_owned(), "one".to_owned()),
                ("2".to_owned(), "two".to_owned()),
            ],
            today: ground.time.today().to_string(),
        }
    }
}

/// What is typed into the form, checked.
pub(super) struct Supposed {
    pub suppose: Suppose,
    /// What is supposed, in words; nothing where the form is empty.
    pub words: Vec<String>,
}

fn whole(text: &str) -> Result<u32, String> {
    match text.parse::<u32>() {
        Ok(count) if count <= MOST_MORE => Ok(count),
        _ => Err(format!(
            "is {text:?}; must be a whole number from 0 to {MOST_MORE}"
        )),
    }
}

fn time_of_day(text: &str) -> Result<u16, String> {
    let time: Result<Time, _> = text.parse();
    time.map(|time| {
        u16::from(time.hour().unsigned_abs()) * 60 + u16::from(time.minute().unsigned_abs())
    })
    .map_err(|_| format!("is {text:?}; must be a time like 18:00"))
}

pub(super) fn day(text: &str, today: Date) -> Result<Date, String> {
    match text.parse::<Date>() {
        Ok(day) if day >= today => Ok(day),
        Ok(_) => Err("has passed; must be today or later".to_owned()),
        Err(_) => Err(format!("is {text:?}; must be a day like 2027-03-01")),
    }
}

/// Reads the form for these projects; errors stay beside their fields.
pub(super) fn read(typed: &mut Typed, ids: &[ProjectId], ground: &Ground) -> Option<Supposed> {
    let today = ground.time.today();
    let more = typed.take_if_any("more", whole);
    let set = typed.take_if_any("set", |text| {
        let set: Option<ResourceId> = text.parse().ok();
        set.and_then(|set| ground.resources.iter().find(|known| known.id == set))
            .ok_or("is none of the sets; choose one")
    });
    let coats = typed.take_if_any("coats", whole);
    let on = typed.take_if_any("on", |text| day(text, today));
    let opens = typed.take_if_any("opens", time_of_day);
    let shuts = typed.take_if_any("shuts", time_of_day);
    let (more, set, coats, on) = (more?, set?, coats?, on?);
    let (opens, shuts) = (opens?, shuts?);
    let mut suppose = Suppose::default();
    let mut words = Vec::new();
    match (more.filter(|more| *more > 0), set) {
        (Some(more), Some(set)) => {
            suppose.more.insert(set.id, more);
            words.push(format!("{more} more {}", set.about.name));
        }
        (Some(_), None) => {
            typed.refuse("set", "is none; choose the set that is to have more");
            return None;
        }
        (None, Some(_)) => {
            typed.refuse("more", "is empty; must say how many more clamps");
            return None;
        }
        (None, None) => {}
    }
    if let Some(coats) = coats.filter(|coats| *coats > 0) {
        suppose.fewer_coats = ids.iter().map(|id| (*id, coats)).collect();
        words.push(match (coats, ids.len()) {
            (1, 1) => "one coat left out".to_owned(),
            (1, _) => "one coat left out of each".to_owned(),
            (_, 1) => format!("{coats} coats left out"),
            _ => format!("{coats} coats left out of each"),
        });
    }
    if let Some(on) = on {
        let (Some(opens), Some(shuts)) = (opens, shuts) else {
            typed.refuse(
                if opens.is_none() { "opens" } else { "shuts" },
                "is empty; must be the time of day of the opening",
            );
            return None;
        };
        if shuts <= opens {
            typed.refuse(
                "shuts",
                "is not after the beginning; must be later on the same day",
            );
            return None;
        }
        let at = |minute| instant_of(on, minute, &ground.time.zone);
        suppose
            .openings
            .push((at(opens), at(shuts), typed.is_ticked("machines")));
        words.push(format!(
            "an opening on {}, {}",
            crate::web::words::short_day(on),
            ground.time.span(at(opens), at(shuts))
        ));
    } else if opens.is_some() || shuts.is_some() {
        typed.refuse("on", "is empty; must be the day of the opening");
        return None;
    }
    Some(Supposed { suppose, words })
}

/// How much sooner or later a date is.
pub(super) struct Difference {
    /// As in `2 days sooner`.
    pub words: String,
    pub is_better: bool,
    pub is_none: bool,
}

impl Difference {
    pub fn new(now: Timestamp, then: Timestamp) -> Difference {
        let minutes = (now.as_second() - then.as_second()) / 60;
        // Hours that stay within the day of the hand-over are told too.
        let span = if minutes.abs() >= 1440 {
            let days = usize::try_from((minutes.abs() + 720) / 1440).unwrap_or(0);
            words::counted(days, "day", "days")
        } else {
            words::span(Minutes(minutes.abs()))
        };
        Difference {
            words: match minutes {
                0 => "No difference".to_owned(),
                1.. => format!("{span} sooner"),
                _ => format!("{span} later"),
            },
            is_better: minutes > 0,
            is_none: minutes == 0,
        }
    }
}

/// What is said where the difference may be another.
pub(super) const NOT_PROVEN: &str =
    "These plans are not both proven best, so the real difference may be another.";

//! Steps of work: what is done, how long it takes, what it uses, what it waits for.

use super::practice::Practice;
use crate::units::{Area, Length, Minutes, Newtons};

/// A place, machine or shelf that a step uses. Clamps are asked for by reach instead.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Station {
    GlueBench,
    TableSaw,
    CrosscutSaw,
    Planer,
    DrumSander,
    Sander,
    RouterTable,
    Router,
    Jigsaw,
    DrillPress,
    WorkBench,
    RackPlace,
}

impl Station {
    pub const ALL: [Station; 12] = [
        Station::GlueBench,
        Station::TableSaw,
        Station::CrosscutSaw,
        Station::Planer,
        Station::DrumSander,
        Station::Sander,
        Station::RouterTable,
        Station::Router,
        Station::Jigsaw,
        Station::DrillPress,
        Station::WorkBench,
        Station::RackPlace,
    ];

    /// The word for it in pages, JSON and the database.
    pub fn name(self) -> &'static str {
        match self {
            Station::GlueBench => "glue bench",
            Station::TableSaw => "table saw",
            Station::CrosscutSaw => "crosscut saw",
            Station::Planer => "planer",
            Station::DrumSander => "drum sander",
            Station::Sander => "sander",
            Station::RouterTable => "router table",
            Station::Router => "router",
            Station::Jigsaw => "jigsaw",
            Station::DrillPress => "drill press",
            Station::WorkBench => "work bench",
            Station::RackPlace => "rack place",
        }
    }

    pub fn from_name(name: &str) -> Option<Station> {
        Station::ALL
            .into_iter()
            .find(|station| station.name() == name)
    }
}

/// What a step's default minutes are multiplied by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Per {
    Job,
    /// Each strip, slice, disc or other piece that the step handles.
    Piece,
    /// One face of an 18 by 10 in board; other boards in proportion to their area.
    BoardFace,
}

/// When a step can run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Presence {
    /// At any hour: glue hardens and oil cures while the shop is shut.
    Alone,
    /// Someone works at it, inside an opening.
    Member,
    /// A machine runs, inside an opening with a steward on duty.
    Machine,
}

/// The kinds of steps. Each has its row of defaults in [`StepKind::row`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum StepKind {
    Mill,
    DryFit,
    GlueUp,
    Unclamp,
    FlattenPanel,
    CutSlices,
    Flatten,
    FlattenEndGrain,
    Square,
    CutOutline,
    DrillHole,
    RouteDisc,
    RouteRing,
    Groove,
    Grips,
    RoundOverAndSand,
    Feet,
    Coat,
    Drying,
    OffRack,
    Cure,
    HandOver,
}

/// The defaults of a kind of step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StepRow {
    pub key: &'static str,
    pub name: &'static str,
    pub minutes: u32,
    pub per: Per,
    pub presence: Presence,
    pub stations: &'static [Station],
    /// What the cautions that are shown with the step are about, as the table of cautions names it.
    pub cautions: &'static [&'static str],
}

impl StepKind {
    pub const ALL: [StepKind; 22] = [
        StepKind::Mill,
        StepKind::DryFit,
        StepKind::GlueUp,
        StepKind::Unclamp,
        StepKind::FlattenPanel,
        StepKind::CutSlices,
        StepKind::Flatten,
        StepKind::FlattenEndGrain,
        StepKind::Square,
        StepKind::CutOutline,
        StepKind::DrillHole,
        StepKind::RouteDisc,
        StepKind::RouteRing,
        StepKind::Groove,
        StepKind::Grips,
        StepKind::RoundOverAndSand,
        StepKind::Feet,
        StepKind::Coat,
        StepKind::Drying,
        StepKind::OffRack,
        StepKind::Cure,
        StepKind::HandOver,
    ];

    /// Kinds that somebody works at, so that their minutes can be set; the others take theirs from the finish.
    pub fn worked() -> impl Iterator<Item = StepKind> {
        StepKind::ALL
            .into_iter()
            .filter(|kind| kind.row().minutes > 0)
    }

    pub fn from_key(key: &str) -> Option<StepKind> {
        StepKind::ALL.into_iter().find(|kind| kind.row().key == key)
    }

    /// Minutes are common practice with no single source. Those of drying and cure come from the
    /// finish instead.
    pub fn row(self) -> StepRow {
        use Presence::{Alone, Machine, Member};
        let row = |key, name, minutes, per, presence, stations, cautions| StepRow {
            key,
            name,
            minutes,
            per,
            presence,
            stations,
            cautions,
        };
        match self {
            StepKind::Mill => row(
                "mill",
                "Mill and rip",
                6,
                Per::Piece,
                Machine,
                &[Station::TableSaw],
                &["any machine", "ripping", "crosscutting", "wood dust"],
            ),
            StepKind::DryFit => row(
                "dry-fit",
                "Dry fit",
                15,
                Per::Job,
                Member,
                &[Station::GlueBench],
                &[],
            ),
            StepKind::GlueUp => row(
                "glue-up",
                "Glue up",
                40,
                Per::Job,
                Member,
                &[Station::GlueBench],
                &["gluing", "clamping"],
            ),
            StepKind::Unclamp => row(
                "unclamp",
                "Unclamp and scrape",
                20,
                Per::Job,
                Member,
                &[Station::WorkBench],
                &["clamping"],
            ),
            StepKind::FlattenPanel => row(
                "flatten-panel",
                "Flatten the panel",
                20,
                Per::BoardFace,
                Member,
                &[],
                &["wood dust"],
            ),
            StepKind::CutSlices => row(
                "cut-slices",
                "Crosscut slices",
                3,
                Per::Piece,
                Machine,
                &[Station::TableSaw],
                &["any machine", "crosscutting", "small parts", "wood dust"],
            ),
            StepKind::Flatten => row(
                "flatten",
                "Flatten",
                20,
                Per::BoardFace,
                Member,
                &[],
                &["wood dust"],
            ),
            StepKind::FlattenEndGrain => row(
                "flatten-end-grain",
                "Flatten the end grain",
                35,
                Per::BoardFace,
                Member,
                &[],
                &["end grain", "wood dust"],
            ),
            StepKind::Square => row(
                "square",
                "Square to size",
                20,
                Per::Job,
                Machine,
                &[Station::TableSaw],
                &["any machine", "crosscutting", "wood dust"],
            ),
            StepKind::CutOutline => row(
                "cut-outline",
                "Saw the outline",
                45,
                Per::Job,
                Member,
                &[Station::Jigsaw],
                &["jigsawing", "wood dust"],
            ),
            StepKind::DrillHole => row(
                "drill-hole",
                "Drill the hole",
                15,
                Per::Job,
                Member,
                &[Station::DrillPress],
                &["drilling", "wood dust"],
            ),
            StepKind::RouteDisc => row(
                "route-disc",
                "Rout the discs",
                30,
                Per::Piece,
                Member,
                &[Station::Router],
                &["any machine", "routing", "circle routing", "wood dust"],
            ),
            StepKind::RouteRing => row(
                "route-ring",
                "Rout the ring",
                45,
                Per::Job,
                Member,
                &[Station::Router],
                &["any machine", "routing", "circle routing", "wood dust"],
            ),
            StepKind::Groove => row(
                "groove",
                "Rout the juice groove",
                45,
                Per::Job,
                Member,
                &[Station::Router],
                &["any machine", "routing", "wood dust"],
            ),
            StepKind::Grips => row(
                "grips",
                "Rout the grip recesses",
                30,
                Per::Job,
                Member,
                &[Station::Router],
                &["any machine", "routing", "wood dust"],
            ),
            StepKind::RoundOverAndSand => row(
                "round-over-and-sand",
                "Round over and sand",
                45,
                Per::BoardFace,
                Member,
                &[Station::Sander],
                &["any machine", "routing", "sanding", "wood dust"],
            ),
            StepKind::Feet => row(
                "feet",
                "Screw on the feet",
                15,
                Per::Job,
                Member,
                &[Station::WorkBench],
                &[],
            ),
            StepKind::Coat => row(
                "coat",
                "Coat",
                30,
                Per::Job,
                Member,
                &[Station::WorkBench],
                &["finishing"],
            ),
            StepKind::Drying => row("drying", "Dry", 0, Per::Job, Alone, &[], &[]),
            StepKind::OffRack => row("off-rack", "Off the rack", 10, Per::Job, Member, &[], &[]),
            StepKind::Cure => row("cure", "Cure", 0, Per::Job, Alone, &[], &[]),
            StepKind::HandOver => row(
                "hand-over",
                "Hand over",
                10,
                Per::Job,
                Member,
                &[],
                &["food board"],
            ),
        }
    }
}

/// How many clamps, how far at least each must open, and how hard at least each must press.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClampAsk {
    pub number: u32,
    /// Panel, both cauls and pads.
    pub least_reach: Length,
    /// That the number was reckoned with; nothing where any clamp will do.
    pub least_force: Newtons,
}

/// A wait: this step starts from `min_gap` to `max_gap` minutes after the end of step `key`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct After {
    pub key: String,
    pub min_gap: Minutes,
    pub max_gap: Option<Minutes>,
}

/// What stays in use from the start of a step to the end of a later one, shop open or shut.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hold {
    /// The key of the later step.
    pub until: String,
    /// More than one where clamps of unlike force press together.
    pub clamps: Vec<ClampAsk>,
    pub stations: Vec<(Station, u32)>,
}

/// One step of a project.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    pub kind: StepKind,
    /// Unique in its project and the same as long as the design asks for the step: `coat-2`.
    pub key: String,
    pub name: String,
    pub minutes: Minutes,
    pub presence: Presence,
    pub stations: Vec<(Station, u32)>,
    pub after: Vec<After>,
    pub hold: Option<Hold>,
    /// The panel that the step glues, as an index into the panels of the needs.
    pub panel: Option<usize>,
    pub cautions: Vec<&'static str>,
}

impl Step {
    /// Someone must be there, so the step lies in an opening.
    pub fn is_attended(&self) -> bool {
        self.presence != Presence::Alone
    }

    /// The clamps that the step sets.
    pub fn clamps(&self) -> &[ClampAsk] {
        self.hold.as_ref().map_or(&[], |hold| &hold.clamps)
    }
}

/// How much of a step's work there is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Amount {
    Job,
    Pieces(usize),
    /// The area of all faces that are worked.
    Faces(Area),
}

/// A step of the kind with its default uses, not yet placed after anything.
pub(super) fn step(kind: StepKind, amount: Amount, practice: &Practice) -> Step {
    let row = kind.row();
    let each = f64::from(practice.minutes.of(kind));
    let board_face = Area::of(Length::from_inches(18, 1), Length::from_inches(10, 1)).mm2();
    let times = match amount {
        Amount::Job => 1.0,
        Amount::Pieces(count) => count as f64,
        Amount::Faces(area) => area.mm2() / board_face,
    };
    // Nobody plans a minute: up to the next five. The tiny term keeps 1.000000001 of a face at one.
    let minutes = if matches!(amount, Amount::Job) {
        i64::from(practice.minutes.of(kind))
    } else {
        ((each * times / 5.0 - 1e-9).ceil() as i64 * 5).max(5)
    };
    Step {
        kind,
        key: row.key.to_owned(),
        name: row.name.to_owned(),
        minutes: Minutes(minutes),
        presence: row.presence,
        stations: row.stations.iter().map(|station| (*station, 1)).collect(),
        after: Vec::new(),
        hold: None,
        panel: None,
        cautions: row.cautions.to_vec(),
    }
}

/// Steps one after the other.
#[derive(Clone, Debug, Default)]
pub(super) struct Steps {
    pub list: Vec<Step>,
}

impl Steps {
    /// Adds the step after the latest one, and gives its key.
    pub fn next(&mut self, mut step: Step) -> String {
        if let Some(latest) = self.list.last() {
            step.after.insert(0, after(&latest.key));
        }
        self.start(step)
    }

    /// Adds the step after nothing but what it says itself, and gives its key.
    pub fn start(&mut self, step: Step) -> String {
        debug_assert!(
            self.list.iter().all(|other| other.key != step.key),
            "{}",
            step.key
        );
        let key = step.key.clone();
        self.list.push(step);
        key
    }
}

/// Any time after the end of `key`.
pub(super) fn after(key: &str) -> After {
    After {
        key: key.to_owned(),
        min_gap: Minutes(0),
        max_gap: None,
    }
}

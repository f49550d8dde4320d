//! A calculator's answer in words, in the member's units, with its sources.

use serde_json::Value;

use super::super::units::plain;
use crate::units::{Force, Length, LengthFormat, Mass, Minutes, Pressure};
use crate::web::words::{counted, span};
use crate::wire::length::from_json;

/// What ends the names of figures in JSON, and says nothing to a reader of pages.
const UNITS: [&str; 8] = [
    "_kpa", "_n", "_g", "_kg", "_mm", "_c", "_percent", "_minutes",
];

/// The answer as the page shows it.
#[derive(Default)]
pub(super) struct Answered {
    /// What is most of all to know.
    pub verdict: Option<(bool, String)>,
    /// Name and value.
    pub figures: Vec<(String, String)>,
    pub notes: Vec<String>,
    pub tables: Vec<Table>,
    /// Text and source.
    pub cautions: Vec<(String, String)>,
    /// What a source is of, and the source.
    pub sources: Vec<(String, String)>,
}

pub(super) struct Table {
    pub caption: &'static str,
    pub heads: Vec<&'static str>,
    pub rows: Vec<Vec<String>>,
}

/// Reads one object of the answer.
#[derive(Clone, Copy)]
struct Reader<'a> {
    value: &'a Value,
    lengths: LengthFormat,
}

impl<'a> Reader<'a> {
    fn at(self, pointer: &str) -> Reader<'a> {
        Reader {
            value: self.value.pointer(pointer).unwrap_or(&Value::Null),
            lengths: self.lengths,
        }
    }

    fn list(self, pointer: &str) -> Vec<Reader<'a>> {
        let values = self.value.pointer(pointer).and_then(Value::as_array);
        let lengths = self.lengths;
        values
            .into_iter()
            .flatten()
            .map(|value| Reader { value, lengths })
            .collect()
    }

    fn is_true(self, pointer: &str) -> bool {
        self.at(pointer).value == &Value::Bool(true)
    }

    fn is_there(self, pointer: &str) -> bool {
        !self.at(pointer).value.is_null()
    }

    fn text(self, pointer: &str) -> String {
        match self.at(pointer).value {
            Value::String(text) => text.clone(),
            Value::Null => String::new(),
            other => other.to_string(),
        }
    }

    fn number(self, pointer: &str) -> f64 {
        self.at(pointer).value.as_f64().unwrap_or_default()
    }

    fn length_of(self, pointer: &str) -> Length {
        let value = self.at(pointer).value;
        from_json(value)
            .unwrap_or_else(|_| Length::from_mm_rounded(value.as_f64().unwrap_or_default()))
    }

    /// As a rule shows it: `6 3/8 in`.
    fn length(self, pointer: &str) -> String {
        let length = self.length_of(pointer);
        let shown = self.lengths.show(length);
        if shown.starts_with('≈') {
            format!("{shown} ({length})")
        } else {
            shown
        }
    }

    /// As a caliper shows it: small changes want more than a fraction.
    fn fine(self, pointer: &str) -> String {
        let length = self.length_of(pointer);
        let (mm, inches) = (length.mm(), length.inches());
        match self.lengths {
            LengthFormat::Inches(_) => format!("{inches:.3} in ({mm:.2} mm)"),
            LengthFormat::Millimetres => format!("{mm:.2} mm"),
        }
    }

    /// `low to high`, or one of them where they are the same.
    fn range(self, pointer: &str, show: impl Fn(Reader<'a>) -> String) -> String {
        let (low, high) = (
            show(self.at(pointer).at("/low")),
            show(self.at(pointer).at("/high")),
        );
        if low == high {
            low
        } else {
            format!("{low} to {high}")
        }
    }

    fn percent(self, pointer: &str) -> String {
        format!("{:.1} %", self.number(pointer))
    }

    fn minutes(self, pointer: &str) -> String {
        span(Minutes(self.number(pointer) as i64))
    }

    fn pressure(self) -> String {
        let pressure = Pressure::from_kpa(self.value.as_f64().unwrap_or_default());
        match self.lengths {
            LengthFormat::Inches(_) => format!("{:.0} psi", pressure.psi()),
            LengthFormat::Millimetres => format!("{:.0} kPa", pressure.kpa()),
        }
    }

    fn force(self) -> String {
        let force = Force::from_newtons(self.value.as_f64().unwrap_or_default());
        match self.lengths {
            LengthFormat::Inches(_) => format!("{:.0} lbf", force.pounds()),
            LengthFormat::Millimetres => format!("{:.0} N", force.newtons()),
        }
    }

    fn mass(self, pointer: &str) -> String {
        let mass = Mass::from_grams(self.number(pointer));
        match self.lengths {
            LengthFormat::Inches(_) => format!("{:.2} lb", mass.pounds()),
            LengthFormat::Millimetres if mass.grams() < 1000.0 => format!("{:.0} g", mass.grams()),
            LengthFormat::Millimetres => format!("{:.2} kg", mass.kilograms()),
        }
    }

    fn money(self, pointer: &str) -> String {
        format!("{:.2}", self.number(pointer))
    }

    fn texts(self, pointer: &str) -> Vec<String> {
        self.list(pointer)
            .into_iter()
            .map(|reader| reader.text(""))
            .collect()
    }
}

impl Answered {
    pub fn new(name: &str, answer: &Value, lengths: LengthFormat) -> Answered {
        let mut answered = Answered::default();
        let reader = Reader {
            value: answer,
            lengths,
        };
        match name {
            "emc" => answered.figure("It settles at", reader.percent("/emc_percent")),
            "moisture-check" => answered.moisture_check(reader),
            "movement" => answered.movement(reader),
            "board-movement" => answered.board_movement(reader),
            "cross-grain" => answered.cross_grain(reader),
            "food-check" => answered.food_check(reader),
            "board-feet" => {
                answered.figure(
                    "By volume",
                    format!("{} board feet", plain(reader.number("/board_feet"))),
                );
                answered.figure(
                    "As a hardwood yard tallies it",
                    format!("{} board feet", plain(reader.number("/tally/board_feet"))),
                );
                let each = reader.text("/tally/surface_measure_each");
                answered.figure("Surface measure of one", format!("{each} square feet"));
            }
            "weight" => answered.figure("Weight", reader.mass("/weight_g")),
            "clamping" => answered.clamping(reader),
            "clamp-load" => answered.clamp_load(reader),
            "glue-up" => answered.glue_up(reader),
            "circle" => answered.circle(reader),
            "flattening" => answered.figure("About", reader.minutes("/minutes")),
            "grits" => answered.grits(reader),
            "finish" => answered.finish(reader),
            "cost" => {
                for (what, pointer) in [
                    ("Wood from the bins", "/bin_wood"),
                    ("Wood bought", "/bought_wood"),
                    ("Glue", "/glue"),
                    ("Abrasive", "/abrasive"),
                    ("Finish", "/finish"),
                    ("Together", "/total"),
                ] {
                    answered.figure(what, reader.money(pointer));
                }
            }
            "advice" => answered.advice(reader),
            _ => {}
        }
        if reader.is_there("/note") && name != "circle" {
            answered.notes.push(reader.text("/note"));
        }
        answered.cautions = reader
            .list("/cautions")
            .into_iter()
            .map(|caution| (caution.text("/text"), caution.text("/source/text")))
            .collect();
        answered.add_sources(reader);
        answered
    }

    fn figure(&mut self, name: impl Into<String>, value: String) {
        self.figures.push((name.into(), value));
    }

    fn table(&mut self, caption: &'static str, heads: &[&'static str], rows: Vec<Vec<String>>) {
        if !rows.is_empty() {
            self.tables.push(Table {
                caption,
                heads: heads.to_vec(),
                rows,
            });
        }
    }

    /// One line for each source, with all that it is of.
    fn add_sources(&mut self, reader: Reader<'_>) {
        for source in reader.list("/sources") {
            let (of, text) = (source.text("/of"), source.text("/text"));
            let of = UNITS
                .iter()
                .find_map(|unit| of.strip_suffix(unit))
                .unwrap_or(&of);
            let of = of.replace('_', " ");
            match self.sources.iter_mut().find(|(_, known)| *known == text) {
                Some((all, _)) => {
                    if !all.split(", ").any(|known| known == of) {
                        all.push_str(", ");
                        all.push_str(&of);
                    }
                }
                None => self.sources.push((of, text)),
            }
        }
    }

    fn moisture_check(&mut self, reader: Reader<'_>) {
        let is_ready = reader.is_true("/ready_to_glue");
        self.verdict = Some((
            is_ready,
            if is_ready {
                "They can be glued.".to_owned()
            } else {
                "Not yet.".to_owned()
            },
        ));
        self.figure("This air gives", reader.percent("/emc_percent"));
        self.notes.extend(
            reader
                .list("/concerns")
                .iter()
                .map(|concern| concern.text("/text")),
        );
    }

    fn movement(&mut self, reader: Reader<'_>) {
        let what = if reader.number("/change") < 0.0 {
            "It shrinks by"
        } else {
            "It swells by"
        };
        let change = reader.fine("/change");
        self.figure(what, change.trim_start_matches('-').replace("(-", "("));
        self.figure("New width", reader.fine("/new_width"));
        if reader.is_there("/coefficient") {
            self.figure(
                "Coefficient",
                format!("{:.5}", reader.number("/coefficient")),
            );
        }
    }

    fn board_movement(&mut self, reader: Reader<'_>) {
        self.figure("From a moisture of", reader.percent("/from_mc_percent"));
        self.figure("To a moisture of", reader.percent("/to_mc_percent"));
        self.figure(
            "The board changes by",
            reader.range("/width_change", |end| end.fine("")),
        );
        let strips = reader.list("/strips");
        let rows = strips
            .iter()
            .enumerate()
            .map(|(at, strip)| vec![format!("{}", at + 1), strip.range("", |end| end.fine(""))]);
        self.table("Each strip", &["Strip", "Change of width"], rows.collect());
        let ridges = reader.list("/ridges");
        let rows = ridges
            .iter()
            .enumerate()
            .map(|(at, ridge)| vec![format!("{} and {}", at + 1, at + 2), ridge.fine("")]);
        self.table(
            "Ridge that unlike neighbours can make",
            &["Between strips", "At most"],
            rows.collect(),
        );
    }

    fn cross_grain(&mut self, reader: Reader<'_>) {
        let is_too_long = reader.is_true("/too_long");
        let longest = reader.length("/longest_solid_joint");
        self.verdict = Some((
            !is_too_long,
            if is_too_long {
                format!(
                    "Too long to glue solid. Let one side slide (slots, a spline without glue), or shorten the joint to at most {longest}."
                )
            } else {
                "So short a joint is glued solid.".to_owned()
            },
        ));
        self.figure(
            "The two want to part by",
            reader.range("/mismatch", |end| end.fine("")),
        );
        self.figure("Longest joint to glue solid", longest);
    }

    fn food_check(&mut self, reader: Reader<'_>) {
        self.verdict = Some(match reader.text("/verdict").as_str() {
            "fit" => (true, "These woods are fit for it.".to_owned()),
            "warned" => (false, "With reservations: read why below.".to_owned()),
            _ => (false, "One of these woods is not fit for it.".to_owned()),
        });
        self.woods(reader);
    }

    fn woods(&mut self, reader: Reader<'_>) {
        let rows = reader.list("/woods").into_iter().map(|wood| {
            ["/species", "/verdict", "/grade", "/reason"]
                .map(|pointer| wood.text(pointer))
                .to_vec()
        });
        self.table("Woods", &["Wood", "Here", "Grade", "Why"], rows.collect());
    }

    fn places(&mut self, reader: Reader<'_>) {
        let places = reader.list("/places");
        let rows = places.iter().enumerate().map(|(at, place)| {
            vec![
                format!("{}", at + 1),
                place.length("/from_end"),
                place.text("/side"),
            ]
        });
        self.table(
            "Where the clamps go",
            &["Clamp", "From the end", "Above or below"],
            rows.collect(),
        );
    }

    fn clamping(&mut self, reader: Reader<'_>) {
        let needed = reader.length("/reach_needed");
        let enough = reader.is_true("/reach_enough");
        self.verdict = Some((
            enough,
            if enough {
                "The clamps reach.".to_owned()
            } else {
                format!(
                    "The clamps do not reach: they need {needed}. Glue up two narrower panels first, or take longer clamps."
                )
            },
        ));
        self.figure("Clamps", reader.text("/clamps"));
        self.figure(
            "For the highest pressure",
            reader.text("/clamps_for_highest_pressure"),
        );
        self.figure("Pressure", reader.range("/pressure_kpa", Reader::pressure));
        self.figure("Force in all", reader.range("/force_n", Reader::force));
        self.figure("Not further apart than", reader.length("/spacing"));
        self.figure("Reach needed", needed);
        self.places(reader);
    }

    fn clamp_load(&mut self, reader: Reader<'_>) {
        let is_one = reader.is_true("/all_together");
        self.verdict = Some((
            is_one,
            if is_one {
                "All of them can lie in one set of clamps.".to_owned()
            } else {
                "Not all of them in one set of clamps.".to_owned()
            },
        ));
        let rows = reader.list("/loads").into_iter().map(|load| {
            vec![
                load.texts("/panels").join(", "),
                load.text("/clamps"),
                load.text("/saved"),
                load.length("/reach_needed"),
                load.range("/pressure_kpa", Reader::pressure),
            ]
        });
        self.table(
            "Loads",
            &["Panels", "Clamps", "Saved", "Reach needed", "Pressure"],
            rows.collect(),
        );
        self.notes.extend(reader.texts("/hindrances"));
    }

    fn glue_up(&mut self, reader: Reader<'_>) {
        let fits = reader.is_true("/fits_open_time");
        let panels = reader.number("/sub_panels") as usize;
        self.verdict = Some((
            fits,
            if fits {
                "All in one go.".to_owned()
            } else if reader.is_true("/too_slow_for_one_line") {
                "Even one line takes longer than this glue stays open.".to_owned()
            } else {
                format!(
                    "Not in one go: glue {} first.",
                    counted(panels, "sub-panel", "sub-panels")
                )
            },
        ));
        self.figure("Glue lines", reader.text("/glue_lines"));
        self.figure("Glue", format!("{:.0} g", reader.number("/glue_g")));
        self.figure("Spreading takes", reader.minutes("/spread_minutes"));
        self.figure(
            "It stays open for",
            reader.range("/open_minutes", |end| end.minutes("")),
        );
        self.figure(
            "In the clamps for",
            reader.range("/clamp_minutes", |end| end.minutes("")),
        );
        if reader.number("/extra_clamp_minutes") > 0.0 {
            self.figure(
                "More for sub-panels",
                reader.minutes("/extra_clamp_minutes"),
            );
        }
        if reader.is_there("/full_cure_minutes") {
            self.figure(
                "Full strength after",
                reader.range("/full_cure_minutes", |end| end.minutes("")),
            );
        }
        self.figure("Class for water", reader.text("/water_class"));
        let rounds = reader.list("/rounds");
        let rows = rounds.iter().enumerate().flat_map(|(round, parts)| {
            parts.list("").into_iter().map(move |part| {
                vec![
                    format!("{}", round + 1),
                    format!(
                        "{} to {}",
                        part.text("/strips/from"),
                        part.text("/strips/to")
                    ),
                    part.length("/width"),
                    part.text("/glue_lines"),
                ]
            })
        });
        self.table(
            "What is glued when",
            &["Round", "Strips", "Width", "Glue lines"],
            rows.collect(),
        );
        self.notes.extend(reader.texts("/flaws"));
        if reader.is_true("/contact_pressure_only") {
            self.notes.push(
                "Press only until the faces meet: hard clamping starves the joint.".to_owned(),
            );
        }
        let wide = reader.texts("/too_wide_for_planer");
        if !wide.is_empty() {
            self.notes.push(format!(
                "Too wide for the planer by themselves: strips {}.",
                wide.join(", ")
            ));
        }
    }

    fn circle(&mut self, reader: Reader<'_>) {
        for (side, what) in [("/outside", "disc"), ("/inside", "hole of the ring")] {
            if reader.is_there(side) {
                let pivot = reader.at(side);
                self.figure(
                    format!("Pivot to the near edge of the bit, {what}"),
                    pivot.length("/pivot_to_near_edge"),
                );
                self.figure(
                    format!("Pivot to the bit's centre, {what}"),
                    pivot.length("/pivot_to_bit_centre"),
                );
            }
        }
        if reader.is_there("/disc_diameter") {
            self.figure("The round that falls out", reader.length("/disc_diameter"));
        }
        self.figure("Blank at least, square", reader.length("/blank_at_least"));
        let depths = reader.list("/pass_depths");
        let settings = reader.list("/depth_settings");
        let rows = depths
            .iter()
            .zip(&settings)
            .enumerate()
            .map(|(at, (depth, setting))| {
                vec![format!("{}", at + 1), depth.length(""), setting.length("")]
            });
        self.table(
            "Passes",
            &["Pass", "Takes", "Set to a depth of"],
            rows.collect(),
        );
        if reader.is_there("/note") {
            let deepest = depths
                .first()
                .map_or_else(String::new, |depth| depth.length(""));
            self.notes.push(format!(
                "{deepest} at a pass is more than the 1/8 in that router makers allow; take more passes in hard wood."
            ));
        }
    }

    fn grits(&mut self, reader: Reader<'_>) {
        self.figure("Sand with", reader.texts("/grits").join(", "));
        let rows = reader.list("/gaps").into_iter().map(|gap| {
            vec![
                format!("{} to {}", gap.text("/from"), gap.text("/to")),
                format!("{:.2} times", gap.number("/ratio")),
                gap.text("/buy"),
            ]
        });
        self.table(
            "Steps too large",
            &["From", "Step", "Grit to buy"],
            rows.collect(),
        );
        self.notes.push(reader.text("/raise_grain"));
    }

    fn calendar(&mut self, reader: Reader<'_>) {
        let rows = reader
            .list("/calendar")
            .into_iter()
            .map(|step| vec![step.minutes("/after_minutes"), step.text("/what")]);
        self.table("When", &["After", "What"], rows.collect());
    }

    fn finish(&mut self, reader: Reader<'_>) {
        self.figure("Coats", reader.text("/coats"));
        self.figure(
            "Finish",
            format!("{:.0} ml", reader.number("/litres") * 1000.0),
        );
        self.figure("Surface", format!("{:.3} m²", reader.number("/area_m2")));
        self.figure(
            "Ready for use after",
            reader.minutes("/ready_after_minutes"),
        );
        self.calendar(reader);
        self.notes.extend(reader.texts("/flaws"));
        if reader.is_there("/allergy") {
            self.notes
                .push(format!("Allergy: {}.", reader.text("/allergy")));
        }
    }

    fn advice(&mut self, reader: Reader<'_>) {
        let concerns = reader.list("/concerns");
        let warnings = reader.list("/warnings");
        let n_concerns = concerns.len() + warnings.len();
        self.verdict = Some((
            n_concerns == 0,
            if n_concerns == 0 {
                "Nothing speaks against it.".to_owned()
            } else {
                format!(
                    "{} to know before the first cut.",
                    counted(n_concerns, "thing", "things")
                )
            },
        ));
        for concern in concerns.iter().chain(&warnings) {
            let cure = concern.text("/cure");
            self.notes.push(
                format!("{} {cure}", concern.text("/text"))
                    .trim()
                    .to_owned(),
            );
        }
        self.figure(
            "Board feet, finished",
            format!("{:.2}", reader.number("/board_feet/finished")),
        );
        self.figure(
            "Board feet, rough",
            format!("{:.2}", reader.number("/board_feet/rough")),
        );
        self.figure("Weight, finished", reader.mass("/finished_weight_g"));
        if reader.is_there("/equilibrium_mc_percent") {
            self.figure("This air gives", reader.percent("/equilibrium_mc_percent"));
        }
        self.figure(
            "Glue",
            format!(
                "{:.0} g of {}",
                reader.number("/glue/glue_g"),
                reader.text("/glue/name")
            ),
        );
        self.figure("Class for water", reader.text("/glue/water_class"));
        self.figure(
            "Sanding flat",
            reader.minutes("/surface/flattening_minutes"),
        );
        self.figure("Grits", reader.texts("/surface/grits").join(", "));
        self.figure(
            "Finish",
            format!(
                "{:.0} ml of {}",
                reader.number("/finish/litres") * 1000.0,
                reader.text("/finish/name")
            ),
        );
        self.figure(
            "Ready for use after",
            reader.minutes("/finish/ready_after_minutes"),
        );
        for panel in reader.list("/movement") {
            self.figure(
                format!(
                    "Movement from {} to {}",
                    panel.percent("/dry_mc_percent"),
                    panel.percent("/damp_mc_percent")
                ),
                panel.range("/width_change", |end| end.fine("")),
            );
            self.figure("Largest ridge", panel.fine("/largest_ridge"));
        }
        let rows = reader.list("/panels").into_iter().map(|panel| {
            vec![
                panel.text("/name"),
                panel.range("/pressure_kpa", Reader::pressure),
                panel.range("/force_n", Reader::force),
                panel.length("/reach_needed"),
                panel
                    .list("/take")
                    .iter()
                    .map(|take| format!("{} of {}", take.text("/clamps"), take.text("/clamp_set")))
                    .collect::<Vec<_>>()
                    .join(", "),
            ]
        });
        self.table(
            "Clamps",
            &["Panel", "Pressure", "Force", "Reach needed", "Take"],
            rows.collect(),
        );
        self.woods(reader);
        self.calendar(reader.at("/finish"));
    }
}

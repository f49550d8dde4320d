//! The form of the workshop's practice: allowances, glue, finish, grits, and the minutes of steps.

use super::form::{Field, Group};
use crate::app::choice;
use crate::app::settings::{ALLOWANCES, Counts, FINISHING, Figure, GLUING, LONGEST_STEP};
use crate::calc::work::{Per, Practice, StepKind};
use crate::reference;
use crate::store::practice::{FLATTENING_TOOLS, PracticeChanges};
use crate::store::settings::Settings;
use crate::units::{Length, LengthFormat, Minutes};
use crate::web::Typed;

/// The practice as it would be without the workshop's own figures, but with its glue and finish.
fn usual(changes: &PracticeChanges) -> Practice {
    let mut chosen = PracticeChanges::default();
    choice::choose_glue(
        &mut chosen,
        changes.glue.as_deref().and_then(reference::glue),
    );
    choice::choose_finish(
        &mut chosen,
        changes.finish.as_deref().and_then(reference::finish),
    );
    let mut practice = Practice::default();
    chosen.apply(&mut practice);
    practice
}

fn names(first: &str, names: impl Iterator<Item = String>) -> Vec<(String, String)> {
    let mut options = vec![(String::new(), first.to_owned())];
    options.extend(names.map(|name| (name.clone(), name)));
    options
}

fn figure_fields(figures: &[Figure], usual: &Practice, lengths: LengthFormat) -> Vec<Field> {
    figures
        .iter()
        .map(|figure| {
            let said = figure.said((figure.usual)(usual), lengths);
            Field::line(figure.name, figure.label).optional().hint(
                format!("{} Usual: {said}.", figure.hint)
                    .trim_start()
                    .to_owned(),
            )
        })
        .collect()
}

pub(super) fn groups(changes: &PracticeChanges, lengths: LengthFormat) -> Vec<Group> {
    let usual = usual(changes);
    let glues = reference::glues().iter().map(|glue| glue.name.clone());
    let finishes = reference::finishes()
        .iter()
        .map(|finish| finish.name.clone());
    let tools = FLATTENING_TOOLS.iter().map(|(word, _)| (*word).to_owned());
    let mut gluing = vec![
        Field::choice("glue", "Glue", names("as common practice has it", glues))
            .optional()
            .hint(
                "Open time and clamp time follow it. Boards are washed: water class D3 or better.",
            ),
    ];
    gluing.extend(figure_fields(&GLUING, &usual, lengths));
    let mut finishing = vec![
        Field::choice("finish", "Finish", names("a pure drying oil", finishes))
            .optional()
            .hint("Coats and waits follow it, and whether its rags can take fire by themselves."),
    ];
    finishing.extend(figure_fields(&FINISHING, &usual, lengths));
    finishing.push(
        Field::choice(
            "flattening_tool",
            "Panels are made flat with",
            names("a sander", tools),
        )
        .optional()
        .hint("The widest panel that passes stands with the machine, under clamps and stations."),
    );
    finishing.push(
        Field::line("grits", "Grits on the shelf")
            .optional()
            .hint("Coarse to fine: 80, 120, 150, 180, 220."),
    );
    vec![
        Group {
            heading: "Gluing",
            says: String::new(),
            fields: gluing,
        },
        Group {
            heading: "Flattening, sanding and finish",
            says: String::new(),
            fields: finishing,
        },
        Group {
            heading: "Allowances",
            says: "Wood that a cut piece has more than the finished one.".to_owned(),
            fields: figure_fields(&ALLOWANCES, &usual, lengths),
        },
    ]
}

pub(super) fn fill(
    changes: &PracticeChanges,
    grits: &[u16],
    lengths: LengthFormat,
) -> Vec<(String, String)> {
    let word = |word: &Option<String>| word.clone().unwrap_or_default();
    let grits: Vec<String> = grits.iter().map(u16::to_string).collect();
    let mut values = vec![
        ("glue".to_owned(), word(&changes.glue)),
        ("finish".to_owned(), word(&changes.finish)),
        ("flattening_tool".to_owned(), word(&changes.flattening_tool)),
        ("grits".to_owned(), grits.join(", ")),
    ];
    values.extend(crate::app::settings::figures().map(|figure| {
        let said = (figure.get)(changes).map(|value| figure.said(value, lengths));
        (figure.name.to_owned(), said.unwrap_or_default())
    }));
    values
}

fn parse(figure: &Figure, text: &str, lengths: LengthFormat) -> Result<i64, String> {
    let shown: String = text.chars().take(30).collect();
    match figure.counts {
        Counts::Length => Length::parse(text, Some(lengths.unit()))
            .map(Length::nm)
            .map_err(|error| error.to_string()),
        Counts::Minutes => Minutes::parse(text)
            .map(|minutes| minutes.0)
            .map_err(|error| error.to_string()),
        Counts::Force => text
            .trim_end_matches(['N', 'n'])
            .trim()
            .parse()
            .map_err(|_| format!("is \"{shown}\"; must be a whole number of newtons")),
        Counts::Plain => text
            .parse()
            .map_err(|_| format!("is \"{shown}\"; must be a whole number")),
    }
}

fn parse_grits(text: &str) -> Result<Vec<u16>, String> {
    let mut grits = text
        .split([',', ' ', ';'])
        .filter(|word| !word.is_empty())
        .map(|word| {
            let number = word.trim_start_matches(['P', 'p']);
            let shown: String = word.chars().take(20).collect();
            number
                .parse::<u16>()
                .map_err(|_| format!("has \"{shown}\"; must be numbers of grits like 80, 120, 150"))
        })
        .collect::<Result<Vec<u16>, String>>()?;
    grits.sort_unstable();
    grits.dedup();
    Ok(grits)
}

pub(super) fn read(
    typed: &mut Typed,
    settings: &mut Settings,
    lengths: LengthFormat,
) -> Option<()> {
    let before = settings.practice.clone();
    let changes = &mut settings.practice;
    let glue = typed.take_if_any("glue", |text| {
        reference::glue(text)
            .ok_or_else(|| format!("is \"{text}\"; must be a glue of the reference"))
    });
    let finish = typed.take_if_any("finish", |text| {
        reference::finish(text)
            .ok_or_else(|| format!("is \"{text}\"; must be a finish of the reference"))
    });
    let tool = typed.take_if_any("flattening_tool", |text| {
        FLATTENING_TOOLS
            .iter()
            .find(|(word, _)| *word == text)
            .map(|(word, _)| (*word).to_owned())
            .ok_or_else(|| format!("is \"{text}\"; must be one of the tools"))
    });
    let grits = typed.take("grits", parse_grits);
    // A newly chosen glue or finish brings its own figures, unless a figure was typed as well.
    choice::choose_glue(changes, glue?);
    choice::choose_finish(changes, finish?);
    for figure in crate::app::settings::figures() {
        let value = typed.take_if_any(figure.name, |text| {
            let value = parse(figure, text, lengths)?;
            match figure.flaw(value, lengths) {
                Some(flaw) => Err(flaw),
                None => Ok(value),
            }
        });
        if let Some(value) = value
            && value != (figure.get)(&before)
        {
            (figure.set)(changes, value);
        }
    }
    changes.flattening_tool = tool?;
    settings.grits = grits?;
    Some(())
}

fn field_name(kind: StepKind) -> String {
    kind.row().key.to_owned()
}

pub(super) fn step_groups() -> Vec<Group> {
    let group = |heading, says: &str, per| Group {
        heading,
        says: says.to_owned(),
        fields: StepKind::worked()
            .filter(|kind| kind.row().per == per)
            .map(|kind| {
                let row = kind.row();
                Field::whole(field_name(kind), row.name)
                    .optional()
                    .hint(format!("Usual: {} min.", row.minutes))
            })
            .collect(),
    };
    vec![
        group(
            "Once for a piece of work",
            "Minutes, whatever the size.",
            Per::Job,
        ),
        group(
            "For each strip, slice or disc",
            "Minutes for one of them.",
            Per::Piece,
        ),
        group(
            "For each face",
            "Minutes for one face of a board of 18 by 10 in; others in proportion to their area.",
            Per::BoardFace,
        ),
    ]
}

pub(super) fn fill_steps(changes: &PracticeChanges) -> Vec<(String, String)> {
    StepKind::worked()
        .map(|kind| {
            let minutes = changes.step_minutes.get(kind.row().key);
            (
                field_name(kind),
                minutes.map_or_else(String::new, u32::to_string),
            )
        })
        .collect()
}

pub(super) fn read_steps(typed: &mut Typed, changes: &mut PracticeChanges) -> Option<()> {
    for kind in StepKind::worked() {
        let minutes = typed.take_if_any(&field_name(kind), |text| {
            let shown: String = text.chars().take(30).collect();
            text.parse::<u32>()
                .ok()
                .filter(|minutes| *minutes <= LONGEST_STEP)
                .ok_or_else(|| {
                    format!("is \"{shown}\"; must be whole minutes from 0 to {LONGEST_STEP}")
                })
        });
        let key = kind.row().key.to_owned();
        match minutes {
            Some(Some(minutes)) => _ = changes.step_minutes.insert(key, minutes),
            Some(None) => _ = changes.step_minutes.remove(&key),
            None => {}
        }
    }
    Some(())
}

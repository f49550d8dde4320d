//! The way of a project from design to finish, at the head of each of its pages.

use super::opened::Opened;
use crate::store::ProjectId;
use crate::store::project::Stage;
use crate::web::{Member, words};

/// The page of a project that is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::web) enum Here {
    Overview,
    Design,
    Match,
    Plan,
    Cuts,
    BenchSheet,
    Templates,
}

/// One station of the way.
pub(in crate::web) struct PathStep {
    pub label: &'static str,
    pub href: String,
    pub is_done: bool,
    pub is_next: bool,
    pub is_here: bool,
}

/// What stands at the head of each page of a project.
pub(in crate::web) struct Head {
    pub id: ProjectId,
    pub name: String,
    pub kind: &'static str,
    pub who: String,
    pub is_mine: bool,
    pub stage: &'static str,
    pub is_over: bool,
    /// `Friday 5 March 2027, in 4 days`.
    pub due: Option<String>,
    pub is_late: bool,
    pub steps: Vec<PathStep>,
    pub may_edit: bool,
}

/// What to do next, in words and with its page.
pub(in crate::web) struct Next {
    pub words: &'static str,
    pub button: &'static str,
    pub href: String,
}

impl Head {
    pub(super) fn new(opened: &Opened, member: &Member, here: Here) -> Head {
        let project = &opened.project;
        let id = project.id;
        let at = |page: &str| format!("/projects/{id}/{page}");
        let stage = project.stage;
        let stations = [
            ("Design", at("design"), true, here == Here::Design),
            (
                "Match",
                at("match"),
                stage >= Stage::Matched,
                here == Here::Match,
            ),
            (
                "Claim",
                format!("/projects/{id}/match#claim"),
                stage >= Stage::Claimed,
                false,
            ),
            ("Plan", at("plan"), opened.is_planned, here == Here::Plan),
            (
                "Bench sheet",
                at("bench-sheet"),
                stage >= Stage::Milled,
                here == Here::BenchSheet,
            ),
            (
                "Cut",
                at("cuts"),
                stage >= Stage::Milled,
                here == Here::Cuts,
            ),
            (
                "Finish",
                format!("/projects/{id}#steps"),
                stage >= Stage::Ready,
                false,
            ),
        ];
        let next = stations.iter().position(|(_, _, is_done, _)| !is_done);
        let steps = stations
            .into_iter()
            .enumerate()
            .map(|(place, (label, href, is_done, is_here))| PathStep {
                label,
                href,
                is_done,
                is_next: Some(place) == next && project.ended_at.is_none(),
                is_here,
            })
            .collect();
        let due = project.about.due_day.map(|day| {
            format!(
                "{}, {}",
                words::day(day),
                words::from_today(day, opened.today)
            )
        });
        Head {
            id,
            name: project.about.name.clone(),
            kind: opened.design.kind().title(),
            who: project.member_name.clone(),
            is_mine: project.member == member.id(),
            stage: stage.word(),
            is_over: project.ended_at.is_some(),
            due,
            is_late: stage < Stage::Ready
                && project.about.due_day.is_some_and(|day| day < opened.today),
            steps,
            may_edit: opened.may_edit(member),
        }
    }

    /// The next thing to do.
    pub(super) fn next(&self) -> Option<Next> {
        let step = self.steps.iter().find(|step| step.is_next)?;
        let (words, button) = match step.label {
            "Match" => (
                "Find the pieces in the bins that give the strips with the least wood.",
                "Match the wood",
            ),
            "Claim" => (
                "Hold the pieces of the match, so that nobody else cuts them.",
                "Claim the pieces",
            ),
            "Plan" => (
                "Book bench and clamps for the glue-up and everything after it.",
                "Plan the glue-up",
            ),
            "Bench sheet" => (
                "Print the work instructions and take them to the saw.",
                "To the bench sheet",
            ),
            "Cut" => (
                "Cut the pieces, mark them, and give what is left a tag.",
                "Mark pieces as cut",
            ),
            _ => (
                "Glue up, flatten, sand, oil and let it cure; say here how far it is.",
                "See the steps",
            ),
        };
        Some(Next {
            words,
            button,
            href: step.href.clone(),
        })
    }
}

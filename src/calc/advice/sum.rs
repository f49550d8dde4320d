//! The whole advice.

use super::circumstances::Circumstances;
use super::clamps::{ClampSharing, PanelAdvice, panel_advice, sharing};
use super::concern::{Concern, finish_concerns, glue_concerns, grit_concern, moisture_concerns};
use super::movement::{
    CrossPieces, MovementAdvice, RingOnDisc, cross_pieces, panel_movements, ring_on_disc,
};
use crate::calc::cautions;
use crate::calc::cost::{Cost, Used, cost};
use crate::calc::finishing::{
    FinishPlan, GritSequence, flattening_time, grit_sequence, plan_finish, surface_area,
};
use crate::calc::gluing::glue_amount;
use crate::calc::wood::{FoodVerdict, ServedAs, judge_for_food, weight};
use crate::calc::work::{Needs, Practice};
use crate::units::{Area, FoodGrade, Mass, Minutes, Moisture, Volume};

/// Everything that is known before a cut is made.
#[derive(Clone, Debug, PartialEq)]
pub struct Advice {
    pub woods: Vec<WoodAdvice>,
    /// What wood settles at in the workshop's air now.
    pub equilibrium: Option<Moisture>,
    pub movement: Vec<MovementAdvice>,
    pub cross_pieces: Vec<CrossPieces>,
    pub ring_on_disc: Option<RingOnDisc>,
    pub glue: GlueAdvice,
    pub panels: Vec<PanelAdvice>,
    pub sharing: Vec<ClampSharing>,
    pub finished_weight: Mass,
    /// As cut for the project, before gluing.
    pub rough_weight: Mass,
    pub surface: SurfaceAdvice,
    pub finish: FinishAdvice,
    pub cost: Cost,
    pub concerns: Vec<Concern>,
    /// Subjects of caution that the materials bring; the steps have their own.
    pub cautions: Vec<&'static str>,
}

/// One species of the project.
#[derive(Clone, Debug, PartialEq)]
pub struct WoodAdvice {
    pub species: String,
    /// Of the finished wood, 0 to 1.
    pub share: f64,
    pub grade: FoodGrade,
    pub verdict: FoodVerdict,
}

#[derive(Clone, Debug, PartialEq)]
pub struct GlueAdvice {
    pub name: String,
    /// Over all panels.
    pub glue_lines: i64,
    pub amount: Mass,
}

#[derive(Clone, Debug, PartialEq)]
pub struct SurfaceAdvice {
    /// For both faces with the sander.
    pub flattening: Minutes,
    pub grits: GritSequence,
    /// Wet, dry and sand again before the first coat: what is washed raises its grain.
    pub raise_grain: bool,
}

#[derive(Clone, Debug, PartialEq)]
pub struct FinishAdvice {
    pub name: String,
    pub plan: FinishPlan,
}

/// Puts the single calculations together for one project.
pub fn advise(needs: &Needs, practice: &Practice, circumstances: &Circumstances) -> Advice {
    let mut concerns = glue_concerns(circumstances);
    concerns.extend(moisture_concerns(circumstances));
    concerns.extend(finish_concerns(circumstances));
    let (movement, movement_concerns) = panel_movements(needs, circumstances);
    concerns.extend(movement_concerns);
    let longest = practice.gluing.cross_grain;
    let ring_on_disc = ring_on_disc(needs, longest, circumstances).map(|(ring, concern)| {
        concerns.push(concern);
        ring
    });
    let (panels, clamp_concerns) = panel_advice(needs, practice);
    concerns.extend(clamp_concerns);

    let glue = &circumstances.glue;
    let glue_grams: f64 = panels
        .iter()
        .map(|panel| glue_amount(&panel.lines, glue.spread_g_m2, glue.extra).grams())
        .sum();
    let size = needs.finished;
    let face = Area::of(size.length, size.width);
    let area = surface_area(size.length, size.width, size.thickness);
    let finish = &circumstances.finish;
    let plan = plan_finish(&finish.figures, &finish.choice, area);
    let grits = grit_sequence(
        &circumstances.grits,
        &circumstances.made_grits,
        circumstances.first_grit,
        circumstances.last_grit,
        circumstances.largest_grit_step,
    );
    concerns.extend(
        grits
            .gaps
            .iter()
            .map(|gap| grit_concern(gap.from, gap.to, gap.buy)),
    );
    let used = Used {
        bin_wood: circumstances
            .bin_wood
            .unwrap_or_else(|| needs.wood.iter().map(|wood| wood.rough).sum()),
        bought: circumstances.bought.clone(),
        glue_grams,
        sanded_m2: area.m2(),
        finish_litres: plan.litres,
    };
    Advice {
        woods: wood_advice(needs, circumstances),
        equilibrium: circumstances.air.and_then(|air| air.settles_at()),
        cross_pieces: cross_pieces(needs, &movement, longest),
        movement,
        ring_on_disc,
        glue: GlueAdvice {
            name: glue.name.clone(),
            glue_lines: panels.iter().map(|panel| panel.lines.count).sum(),
            amount: Mass::from_grams(glue_grams),
        },
        sharing: sharing(needs, &panels, practice),
        panels,
        finished_weight: needs.weight,
        rough_weight: rough_weight(needs, circumstances),
        surface: SurfaceAdvice {
            flattening: flattening_time(face * 2, &circumstances.sanding),
            grits,
            raise_grain: circumstances.served_as != ServedAs::NoFood,
        },
        finish: FinishAdvice {
            name: finish.name.clone(),
            plan,
        },
        cost: cost(&used, &circumstances.prices),
        concerns,
        cautions: material_cautions(needs, circumstances),
    }
}

fn wood_advice(needs: &Needs, circumstances: &Circumstances) -> Vec<WoodAdvice> {
    let total = needs
        .wood
        .iter()
        .map(|used| used.finished)
        .sum::<Volume>()
        .mm3();
    needs
        .wood
        .iter()
        .filter_map(|used| {
            let wood = circumstances.wood(&used.species)?;
            let share = if total > 0.0 {
                used.finished.mm3() / total
            } else {
                0.0
            };
            Some(WoodAdvice {
                species: used.species.clone(),
                share,
                grade: wood.food,
                verdict: judge_for_food(wood.food, share, circumstances.served_as),
            })
        })
        .collect()
}

fn rough_weight(needs: &Needs, circumstances: &Circumstances) -> Mass {
    let moisture = Moisture::from_percent(12.0).expect("wood can be at 12 %");
    needs
        .wood
        .iter()
        .filter_map(|used| {
            let wood = circumstances.wood(&used.species)?;
            Some(weight(used.rough, &wood.figures, moisture))
        })
        .sum()
}

fn material_cautions(needs: &Needs, circumstances: &Circumstances) -> Vec<&'static str> {
    let woods = needs
        .wood
        .iter()
        .filter_map(|used| circumstances.wood(&used.species))
        .flat_map(|wood| cautions::of_wood(wood.hazard, wood.is_oily));
    let mut subjects = Vec::new();
    for subject in woods
        .chain(cautions::of_glue(&circumstances.glue.figures))
        .chain(cautions::of_finish(&circumstances.finish.figures))
    {
        if !subjects.contains(&subject) {
            subjects.push(subject);
        }
    }
    subjects
}

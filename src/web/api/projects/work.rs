//! What a project asks of wood and shop: needs, advice, the bench sheet.

use axum::extract::State;
use serde_json::{Value, json};
use utoipa_axum::routes;

use crate::app::{App, advice};
use crate::calc::work::Needs;
use crate::store::ProjectId;
use crate::web::pages::projects::{Opened, bench_sheet};
use crate::web::{Error, Json, Member, Path, Routes, Shell, Who};
use crate::wire::advice::AdviceBody;
use crate::wire::design::field_errors;
use crate::wire::length::to_json;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Member, routes!(find_needs))
        .api(Who::Member, routes!(find_advice))
        .api(Who::Member, routes!(find_bench_sheet))
}

fn needs(opened: &Opened) -> Result<Needs, Error> {
    opened
        .needs()
        .map_err(|flaws| Error::Wrong(field_errors("/design", &flaws)))
}

/// Strips, panels, steps and warnings of the design by the workshop's practice of today.
#[utoipa::path(get, path = "/api/v1/projects/{id}/needs", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = Object), (status = 404), (status = 422)))]
async fn find_needs(
    State(app): State<App>,
    Path(id): Path<ProjectId>,
) -> Result<Json<Value>, Error> {
    let needs = needs(&Opened::find(&app, id).await?)?;
    Ok(Json(print_needs(&needs)))
}

pub(super) fn print_needs(needs: &Needs) -> Value {
    let size = |size: crate::calc::work::Size| json!({"length": to_json(size.length), "width": to_json(size.width), "thickness": to_json(size.thickness)});
    json!({
        "kind": needs.kind.slug(),
        "finished": size(needs.finished),
        "rough": size(needs.rough),
        "strips": needs.strips.iter().map(|strip| json!({
            "id": strip.id,
            "species": strip.species,
            "count": strip.count,
            "length": to_json(strip.length),
            "sections": strip.sections.iter().map(|section| json!({
                "rip": to_json(section.rip), "thickness": to_json(section.thickness),
            })).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
        "places": needs.places.iter().map(|place| json!({
            "label": place.label,
            "species": place.species,
            "strip": needs.strips.get(place.need).map(|strip| strip.id.as_str()),
            "width": to_json(place.width),
        })).collect::<Vec<_>>(),
        "panels": needs.panels.iter().map(|panel| json!({
            "name": panel.name,
            "length": to_json(panel.length),
            "width": to_json(panel.width),
            "height": to_json(panel.height),
            "glue_lines": panel.glue_lines(),
            "clamps": panel.clamp_count(),
            "clamps_by_force": panel.clamps.iter().map(|ask| json!({
                "clamps": ask.number, "least_force_n": ask.least_force.0,
            })).collect::<Vec<_>>(),
            "reach_needed": to_json(panel.need.reach),
        })).collect::<Vec<_>>(),
        "steps": needs.steps.iter().map(|step| json!({
            "key": step.key,
            "name": step.name,
            "minutes": step.minutes.0,
            "attended": step.is_attended(),
            "stations": step.stations.iter().map(|(station, count)| json!({
                "station": station.name(), "count": count,
            })).collect::<Vec<_>>(),
            "after": step.after.iter().map(|after| json!({
                "step": after.key,
                "min_gap_minutes": after.min_gap.0,
                "max_gap_minutes": after.max_gap.map(|gap| gap.0),
            })).collect::<Vec<_>>(),
            "cautions": step.cautions,
        })).collect::<Vec<_>>(),
        "leftovers": needs.leftovers.iter().map(|leftover| json!({
            "name": leftover.name,
            "species": leftover.species,
            "size": size(leftover.size),
            "is_round": leftover.is_round,
            "count": leftover.count,
        })).collect::<Vec<_>>(),
        "weight_g": needs.weight.grams(),
        "finished_board_feet": needs.finished_board_feet(),
        "rough_board_feet": needs.rough_board_feet(),
        "warnings": needs.warnings.iter().map(|warning| json!({
            "text": warning.about.to_string(), "cure": warning.cure.to_string(),
        })).collect::<Vec<_>>(),
        "alternatives": needs.alternatives.iter().map(|other| other.about.to_string()).collect::<Vec<_>>(),
    })
}

/// What wood, glue, clamps and finish ask, in one answer, each figure with its source.
#[utoipa::path(get, path = "/api/v1/projects/{id}/advice", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = AdviceBody), (status = 404), (status = 422)))]
async fn find_advice(
    State(app): State<App>,
    Path(id): Path<ProjectId>,
) -> Result<Json<AdviceBody>, Error> {
    let opened = Opened::find(&app, id).await?;
    let needs = needs(&opened)?;
    let mut db = app.store.read().acquire().await?;
    let (project, basis) = (&opened.project, &opened.basis);
    let of = advice::of_project(&mut db, project, &needs, basis, &opened.settings).await?;
    Ok(Json(AdviceBody::new(
        &of.advice,
        &of.circumstances,
        &basis.practice.clamping.rack,
        basis.woods.list(),
        of.glue,
        of.finish,
    )))
}

/// The bench sheet: saw settings, cuts, and every step with what is done and its cautions, in the caller's unit.
#[utoipa::path(get, path = "/api/v1/projects/{id}/bench-sheet", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = Object), (status = 404)))]
async fn find_bench_sheet(
    State(app): State<App>,
    shell: Shell,
    _member: Member,
    Path(id): Path<ProjectId>,
) -> Result<Json<Value>, Error> {
    Ok(Json(bench_sheet::as_json(&app, &shell, id).await?))
}

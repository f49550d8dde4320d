//! What a calculation of needs rests on: the workshop's practice, its saws, its woods.

use sqlx::SqliteConnection;

use super::species::Woods;
use crate::calc::gluing::ClampSet;
use crate::calc::matching::Shop;
use crate::calc::work::{self, Design, FlatteningTool, Flaw, Needs, Practice};
use crate::store::practice::PracticeChanges;
use crate::store::resource::{self, Resource, ResourceKind};
use crate::store::{self, workshop};
use crate::units::{Force, Length};

#[derive(Clone, Debug)]
pub struct Basis {
    pub practice: Practice,
    pub shop: Shop,
    pub woods: Woods,
    /// Names in the reference, where one was chosen.
    pub glue: Option<String>,
    pub finish: Option<String>,
}

impl Basis {
    /// What a design asks of wood and shop.
    ///
    /// # Errors
    /// Everything that keeps it from being made.
    pub fn needs(&self, design: &Design) -> Result<Needs, Vec<Flaw>> {
        work::needs(design, &self.practice, &self.shop, &self.woods.for_work())
    }

    /// The workshop's, with where a project differs.
    pub async fn load(
        db: &mut SqliteConnection,
        changes: &PracticeChanges,
    ) -> store::Result<Basis> {
        let settings = workshop::get(&mut *db).await?.settings;
        let mut practice = Practice::default();
        settings.practice.apply(&mut practice);
        changes.apply(&mut practice);
        let resources = resource::list(&mut *db).await?;
        practice.clamping.rack = clamp_sets(&resources);
        practice.flattening.pass_width = pass_width(&resources, practice.flattening.tool);
        Ok(Basis {
            practice,
            shop: settings.cutting.shop(),
            woods: Woods::load(db).await?,
            glue: changes.glue.clone().or(settings.practice.glue),
            finish: changes.finish.clone().or(settings.practice.finish),
        })
    }
}

/// The clamps that there are, each with what it is rated for.
fn clamp_sets(resources: &[Resource]) -> Vec<ClampSet> {
    resources
        .iter()
        .filter(|resource| resource.about.kind == ResourceKind::ClampSet)
        .filter_map(|resource| {
            let force = resource.about.rated_force_n;
            Some(ClampSet {
                name: resource.about.name.clone(),
                reach: resource.about.reach?,
                rated: force.map(|newtons| Force::from_newtons(newtons as f64)),
                count: i64::from(resource.about.capacity),
            })
        })
        .collect()
}

/// The widest panel that the chosen machine takes; `None` where the tool has no such limit or
/// nobody wrote it down.
fn pass_width(resources: &[Resource], tool: FlatteningTool) -> Option<Length> {
    let kind = match tool {
        FlatteningTool::DrumSander => ResourceKind::DrumSander,
        FlatteningTool::Planer => ResourceKind::Planer,
        FlatteningTool::Sander | FlatteningTool::RouterSled => return None,
    };
    resources
        .iter()
        .filter(|resource| resource.about.kind == kind && resource.about.capacity > 0)
        .filter_map(|resource| resource.about.pass_width)
        .max()
}

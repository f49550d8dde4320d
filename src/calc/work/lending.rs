//! What the workshop lends, in families.
//!
//! A family is all clamps, or all stations of one kind. In a family each set has a level, for clamps
//! their reach; a set serves every ask of its level or below. Each level has a pool, a resource that stands for
//! all sets of at least that level.

use std::collections::BTreeMap;

use super::plan::{Lends, Lent};
use crate::units::Length;

/// Sets, as places among what is lent, each with an amount.
pub(super) type Sets = Vec<(usize, u32)>;

/// `amount` things of a family, of at least a level, from the start of one run to the end of another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Ask {
    pub run: usize,
    pub until: usize,
    pub family: usize,
    pub level: i64,
    pub amount: u32,
    /// The sets it must be handed from, as places among what is lent, with amounts.
    pub bound: Option<Sets>,
}

/// Sets of one family.
#[derive(Clone, Debug)]
struct Family {
    what: Lends,
    /// Level, place among what is lent, and count; lowest level first.
    sets: Vec<(i64, usize, u32)>,
}

/// What there is to hand out.
#[derive(Clone, Debug)]
pub(super) struct Lending {
    families: Vec<Family>,
    pub ids: Vec<String>,
}

impl Lending {
    pub fn new(lent: &[Lent]) -> Lending {
        // Clamps come first and are there even if the workshop has none, so that a need for
        // them is a conflict and not forgotten.
        let clamps = Lends::Clamps {
            reach: Length::ZERO,
        };
        let mut families = vec![Family {
            what: clamps,
            sets: Vec::new(),
        }];
        for (place, set) in lent.iter().enumerate() {
            let (what, level) = match set.what {
                Lends::Clamps { reach } => (clamps, reach.nm()),
                station @ Lends::Station(_) => (station, 0),
            };
            let family = families.iter().position(|family| family.what == what);
            let family = family.unwrap_or_else(|| {
                families.push(Family {
                    what,
                    sets: Vec::new(),
                });
                families.len() - 1
            });
            families[family].sets.push((level, place, set.count));
        }
        for family in &mut families {
            family.sets.sort_unstable();
        }
        Lending {
            families,
            ids: lent.iter().map(|set| set.id.clone()).collect(),
        }
    }

    pub fn clamps(&self) -> usize {
        0
    }

    pub fn family(&self, what: Lends) -> Option<usize> {
        self.families.iter().position(|family| family.what == what)
    }

    /// The binding that says of `handed` what belongs to the family, if that is the whole amount.
    pub fn bind(&self, family: usize, handed: &[(String, u32)], amount: u32) -> Option<Sets> {
        let mut bound: BTreeMap<usize, u32> = BTreeMap::new();
        for (id, amount) in handed {
            let place = self.ids.iter().position(|known| known == id)?;
            if self.families[family]
                .sets
                .iter()
                .any(|(_, set, _)| *set == place)
            {
                *bound.entry(place).or_default() += amount;
            }
        }
        (bound.values().sum::<u32>() == amount).then(|| bound.into_iter().collect())
    }

    /// The levels of a family that differ, lowest first.
    fn levels(&self, family: usize) -> Vec<i64> {
        let mut levels: Vec<i64> = self.families[family]
            .sets
            .iter()
            .map(|(level, _, _)| *level)
            .collect();
        levels.dedup();
        levels
    }

    /// The name of the resource that stands for all sets of at least a level.
    fn pool(&self, family: usize, level: i64) -> String {
        match self.families[family].what {
            Lends::Clamps { .. } => {
                format!("clamps that reach {} or more", Length::from_nm(level))
            }
            Lends::Station(station) => station.name().to_owned(),
        }
    }

    /// The name of the resource that stands for one set.
    fn set(&self, place: usize) -> String {
        format!("set {}", self.ids[place])
    }

    fn level_of(&self, family: usize, place: usize) -> i64 {
        let sets = self.families[family].sets.iter();
        sets.filter(|(_, set, _)| *set == place)
            .map(|(level, _, _)| *level)
            .max()
            .unwrap_or(0)
    }

    /// All resources that these asks draw on, with their capacities.
    pub fn resources(&self, asks: &[Ask]) -> Vec<(String, u32)> {
        let mut resources: Vec<(String, u32)> = Vec::new();
        for (family, of) in self.families.iter().enumerate() {
            for level in self.levels(family) {
                let there = of.sets.iter().filter(|(own, _, _)| *own >= level);
                let capacity = there.map(|(_, _, count)| *count).sum();
                resources.push((self.pool(family, level), capacity));
            }
        }
        for ask in asks {
            // Nothing reaches so far: the need of a resource that is not there shows in the conflict.
            if self
                .levels(ask.family)
                .last()
                .is_none_or(|longest| *longest < ask.level)
            {
                resources.push((self.pool(ask.family, ask.level), 0));
            }
            for (place, _) in ask.bound.iter().flatten() {
                let sets = self.families[ask.family].sets.iter();
                let count = sets
                    .filter(|(_, set, _)| set == place)
                    .map(|(_, _, count)| *count)
                    .sum();
                resources.push((self.set(*place), count));
            }
        }
        resources.sort();
        resources.dedup();
        resources
    }

    /// What an ask draws on: for each nested pool how many.
    pub fn draws(&self, ask: &Ask) -> Vec<(String, u32)> {
        let levels = self.levels(ask.family);
        let Some(bound) = &ask.bound else {
            let Some(class) = levels.iter().find(|level| **level >= ask.level) else {
                return vec![(self.pool(ask.family, ask.level), ask.amount)];
            };
            let pools = levels.iter().filter(|level| *level <= class);
            return pools
                .map(|level| (self.pool(ask.family, *level), ask.amount))
                .collect();
        };
        let mut draws: Vec<(String, u32)> = bound
            .iter()
            .map(|(place, amount)| (self.set(*place), *amount))
            .collect();
        for level in levels {
            let beyond = bound
                .iter()
                .filter(|(place, _)| self.level_of(ask.family, *place) >= level);
            let amount: u32 = beyond.map(|(_, amount)| *amount).sum();
            if amount > 0 {
                draws.push((self.pool(ask.family, level), amount));
            }
        }
        draws
    }

    /// The resources that use of a lent thing draws on.
    pub fn drawn_by(&self, id: &str, asks: &[Ask]) -> Vec<String> {
        let Some(place) = self.ids.iter().position(|known| known == id) else {
            return Vec::new();
        };
        let holds = |family: &Family| family.sets.iter().any(|(_, set, _)| *set == place);
        let Some(family) = self.families.iter().position(holds) else {
            return Vec::new();
        };
        let own = self.level_of(family, place);
        let levels = self
            .levels(family)
            .into_iter()
            .filter(|level| *level <= own);
        let mut resources: Vec<String> = levels.map(|level| self.pool(family, level)).collect();
        if asks
            .iter()
            .flat_map(|ask| ask.bound.iter().flatten())
            .any(|(set, _)| *set == place)
        {
            resources.push(self.set(place));
        }
        resources
    }

    /// The sets that may serve an ask, the lowest sufficient level first.
    pub fn eligible(&self, ask: &Ask) -> Sets {
        let sets = self.families[ask.family].sets.iter();
        sets.filter(|(level, _, _)| *level >= ask.level)
            .map(|(_, place, count)| (*place, *count))
            .collect()
    }

    /// How many families there are; they are handed out one by one.
    pub fn families(&self) -> usize {
        self.families.len()
    }

    /// How many things the set has.
    pub fn count(&self, place: usize) -> u32 {
        let sets = self.families.iter().flat_map(|family| &family.sets);
        sets.filter(|(_, set, _)| *set == place)
            .map(|(_, _, count)| *count)
            .sum()
    }
}

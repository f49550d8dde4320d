//! What the workshop lends, in families.
//!
//! A family is all clamps, or all stations of one kind. In a family each set has a level, for clamps
//! their reach, and clamps have a force; a set serves every ask of its level and force or below. Each level has a pool,
//! a resource that stands for all sets of at least that level, and so has each force that clamps are asked for together
//! with a level.

use std::collections::BTreeMap;

use super::plan::{Lends, Lent};
use crate::units::{Length, Newtons};

/// Sets, as places among what is lent, each with an amount.
pub(super) type Sets = Vec<(usize, u32)>;

/// `amount` things of a family, of at least a level, from the start of one run to the end of another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Ask {
    pub run: usize,
    pub until: usize,
    pub family: usize,
    pub level: i64,
    pub force: Newtons,
    pub amount: u32,
    /// The sets it must be handed from, as places among what is lent, with amounts.
    pub bound: Option<Sets>,
}

/// Sets of one family.
#[derive(Clone, Debug)]
struct Family {
    what: Lends,
    /// Lowest level first.
    sets: Vec<Set>,
    /// Beside those of the levels alone.
    strong: Vec<Pool>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Set {
    level: i64,
    /// Among what is lent.
    place: usize,
    count: u32,
    force: Newtons,
}

/// All sets of at least a level and a force.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Pool {
    level: i64,
    force: Newtons,
}

impl Pool {
    fn of_level(level: i64) -> Pool {
        Pool {
            level,
            force: Newtons::default(),
        }
    }

    fn holds(self, set: &Set) -> bool {
        set.level >= self.level && set.force >= self.force
    }
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
            force: Newtons::default(),
        };
        let family = |what| Family {
            what,
            sets: Vec::new(),
            strong: Vec::new(),
        };
        let mut families = vec![family(clamps)];
        for (place, set) in lent.iter().enumerate() {
            let (what, level, force) = match set.what {
                Lends::Clamps { reach, force } => (clamps, reach.nm(), force),
                station @ Lends::Station(_) => (station, 0, Newtons::default()),
            };
            let known = families.iter().position(|family| family.what == what);
            let known = known.unwrap_or_else(|| {
                families.push(family(what));
                families.len() - 1
            });
            families[known].sets.push(Set {
                level,
                place,
                count: set.count,
                force,
            });
        }
        for family in &mut families {
            family.sets.sort_unstable();
        }
        Lending {
            families,
            ids: lent.iter().map(|set| set.id.clone()).collect(),
        }
    }

    /// Makes a pool for each level and force that is asked for.
    pub fn divide(&mut self, asks: &[Ask]) {
        for ask in asks.iter().filter(|ask| ask.force > Newtons::default()) {
            let pool = Pool {
                level: self.class(ask).unwrap_or(ask.level),
                force: ask.force,
            };
            self.families[ask.family].strong.push(pool);
        }
        for family in &mut self.families {
            family.strong.sort_unstable();
            family.strong.dedup();
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
            if self.set(family, place).is_some() {
                *bound.entry(place).or_default() += amount;
            }
        }
        (bound.values().sum::<u32>() == amount).then(|| bound.into_iter().collect())
    }

    fn set(&self, family: usize, place: usize) -> Option<&Set> {
        let sets = &self.families[family].sets;
        sets.iter().find(|set| set.place == place)
    }

    /// The lowest level that serves an ask; `None` where nothing reaches so far.
    fn class(&self, ask: &Ask) -> Option<i64> {
        let sets = self.families[ask.family].sets.iter();
        sets.map(|set| set.level).find(|level| *level >= ask.level)
    }

    /// Those of the levels, lowest first, and those of a force.
    fn pools(&self, family: usize) -> Vec<Pool> {
        let of = &self.families[family];
        let levels = of.sets.iter().map(|set| Pool::of_level(set.level));
        let mut pools: Vec<Pool> = levels.chain(of.strong.iter().copied()).collect();
        pools.sort_unstable();
        pools.dedup();
        pools
    }

    /// The name of the resource that stands for a pool.
    fn name_of(&self, family: usize, pool: Pool) -> String {
        match self.families[family].what {
            Lends::Clamps { .. } => {
                let reach = Length::from_nm(pool.level);
                if pool.force == Newtons::default() {
                    format!("clamps that reach {reach} or more")
                } else {
                    let Newtons(force) = pool.force;
                    format!("clamps that reach {reach} or more and press with {force} N or more")
                }
            }
            Lends::Station(station) => station.name().to_owned(),
        }
    }

    /// The name of the resource that stands for one set.
    fn name_of_set(&self, place: usize) -> String {
        format!("set {}", self.ids[place])
    }

    /// All resources that these asks draw on, with their capacities.
    pub fn resources(&self, asks: &[Ask]) -> Vec<(String, u32)> {
        let mut resources: Vec<(String, u32)> = Vec::new();
        for (family, of) in self.families.iter().enumerate() {
            for pool in self.pools(family) {
                let there = of.sets.iter().filter(|set| pool.holds(set));
                let capacity = there.map(|set| set.count).sum();
                resources.push((self.name_of(family, pool), capacity));
            }
        }
        for ask in asks {
            // Nothing reaches so far: the need of a resource that is not there shows in the conflict.
            if self.class(ask).is_none() {
                let pool = Pool::of_level(ask.level);
                resources.push((self.name_of(ask.family, pool), 0));
            }
            for (place, _) in ask.bound.iter().flatten() {
                resources.push((self.name_of_set(*place), self.count(*place)));
            }
        }
        resources.sort();
        resources.dedup();
        resources
    }

    /// What an ask draws on: for each pool that holds all that may serve it how many.
    pub fn draws(&self, ask: &Ask) -> Vec<(String, u32)> {
        let pools = self.pools(ask.family);
        let Some(bound) = &ask.bound else {
            let Some(class) = self.class(ask) else {
                let pool = Pool::of_level(ask.level);
                return vec![(self.name_of(ask.family, pool), ask.amount)];
            };
            let pools = pools
                .into_iter()
                .filter(|pool| pool.level <= class && pool.force <= ask.force);
            return pools
                .map(|pool| (self.name_of(ask.family, pool), ask.amount))
                .collect();
        };
        let mut draws: Vec<(String, u32)> = bound
            .iter()
            .map(|(place, amount)| (self.name_of_set(*place), *amount))
            .collect();
        for pool in pools {
            let inside = bound.iter().filter(|(place, _)| {
                self.set(ask.family, *place)
                    .is_some_and(|set| pool.holds(set))
            });
            let amount: u32 = inside.map(|(_, amount)| *amount).sum();
            if amount > 0 {
                draws.push((self.name_of(ask.family, pool), amount));
            }
        }
        draws
    }

    /// The resources that use of a lent thing draws on.
    pub fn drawn_by(&self, id: &str, asks: &[Ask]) -> Vec<String> {
        let Some(place) = self.ids.iter().position(|known| known == id) else {
            return Vec::new();
        };
        let families = 0..self.families.len();
        let found = families.filter_map(|family| Some((family, self.set(family, place)?)));
        let Some((family, set)) = found.into_iter().next() else {
            return Vec::new();
        };
        let pools = self.pools(family).into_iter();
        let mut resources: Vec<String> = pools
            .filter(|pool| pool.holds(set))
            .map(|pool| self.name_of(family, pool))
            .collect();
        if asks
            .iter()
            .flat_map(|ask| ask.bound.iter().flatten())
            .any(|(set, _)| *set == place)
        {
            resources.push(self.name_of_set(place));
        }
        resources
    }

    /// The sets that may serve an ask, the lowest sufficient level first.
    pub fn eligible(&self, ask: &Ask) -> Sets {
        let pool = Pool {
            level: ask.level,
            force: ask.force,
        };
        let sets = self.families[ask.family].sets.iter();
        sets.filter(|set| pool.holds(set))
            .map(|set| (set.place, set.count))
            .collect()
    }

    /// How many families there are; they are handed out one by one.
    pub fn families(&self) -> usize {
        self.families.len()
    }

    /// How many things the set has.
    pub fn count(&self, place: usize) -> u32 {
        let sets = self.families.iter().flat_map(|family| &family.sets);
        sets.filter(|set| set.place == place)
            .map(|set| set.count)
            .sum()
    }
}

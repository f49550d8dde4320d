//! Handing out what the workshop lends: which clamps, which bench.
//!
//! Within one set things are alike, so the uses of a set can be handed out if at no moment more are used than
//! there are (intervals of time form a perfect graph). Which set serves which ask is a search.

use std::collections::BTreeMap;

use super::lending::{Ask, Lending, Sets};
use super::plan::Use;
use crate::units::WallMinute;

/// What came of handing out.
pub(super) enum Handed {
    /// For each ask its sets and amounts.
    All(Vec<Sets>),
    /// It cannot be done; these asks stood against each other, with the sets to bind them to.
    Bind(Vec<(usize, Sets)>),
}

/// Choices tried before handing out is given up for this round.
const MOST_CHOICES: usize = 20_000;

/// Uses of one set over time: from, to, amount.
type Profile = BTreeMap<usize, Vec<(WallMinute, WallMinute, u32)>>;

/// Hands out sets to all asks over their spans, beside what is used already; the shortest sufficient clamps
/// first, so that long ones stay free.
pub(super) fn hand_out(
    lending: &Lending,
    asks: &[Ask],
    spans: &[(WallMinute, WallMinute)],
    used: &[Use],
) -> Handed {
    let mut profile = Profile::new();
    for other in used {
        if let Some(place) = lending.ids.iter().position(|id| *id == other.id) {
            profile
                .entry(place)
                .or_default()
                .push((other.from, other.to, other.amount));
        }
    }
    let mut handed = vec![Vec::new(); asks.len()];
    let mut bindings = Vec::new();
    for family in 0..lending.families() {
        // Bound asks have no choice, so they go first; then in the order of their starts.
        let mut order: Vec<usize> = (0..asks.len())
            .filter(|&ask| asks[ask].family == family)
            .collect();
        order.sort_by_key(|&ask| (asks[ask].bound.is_none(), spans[ask], ask));
        let mut search = Search {
            lending,
            asks,
            spans,
            order,
            profile: &mut profile,
            handed: &mut handed,
            choices: 0,
            failed: None,
        };
        if !search.from(0) {
            bindings.extend(search.bindings());
        }
    }
    if bindings.is_empty() {
        Handed::All(handed)
    } else {
        Handed::Bind(bindings)
    }
}

struct Search<'a> {
    lending: &'a Lending,
    asks: &'a [Ask],
    spans: &'a [(WallMinute, WallMinute)],
    order: Vec<usize>,
    profile: &'a mut Profile,
    handed: &'a mut Vec<Sets>,
    choices: usize,
    /// The furthest place in the order that could not be served, and what all before it had then.
    failed: Option<(usize, Vec<Sets>)>,
}

impl Search<'_> {
    /// Serves all asks from a place of the order on; leaves nothing behind where it cannot.
    fn from(&mut self, place: usize) -> bool {
        let Some(&ask) = self.order.get(place) else {
            return true;
        };
        let sets = match &self.asks[ask].bound {
            Some(bound) => bound.clone(),
            None => self.lending.eligible(&self.asks[ask]),
        };
        let served = self.share(place, ask, &sets, self.asks[ask].amount, Vec::new());
        if !served
            && self
                .failed
                .as_ref()
                .is_none_or(|(furthest, _)| place > *furthest)
        {
            self.failed = Some((place, self.handed.clone()));
        }
        served
    }

    /// Takes the rest of an ask's amount from these sets, as many as can be from the first, then fewer.
    fn share(
        &mut self,
        place: usize,
        ask: usize,
        sets: &[(usize, u32)],
        left: u32,
        taken: Sets,
    ) -> bool {
        self.choices += 1;
        if self.choices > MOST_CHOICES {
            return false;
        }
        let (from, to) = self.spans[ask];
        if left == 0 {
            for &(set, amount) in &taken {
                self.profile
                    .entry(set)
                    .or_default()
                    .push((from, to, amount));
            }
            self.handed[ask] = taken.clone();
            if self.from(place + 1) {
                return true;
            }
            for (set, _) in taken {
                self.profile.entry(set).or_default().pop();
            }
            self.handed[ask].clear();
            return false;
        }
        let Some((&(set, count), rest)) = sets.split_first() else {
            return false;
        };
        let is_bound = self.asks[ask].bound.is_some();
        // A binding's amounts are fixed and were respected by the schedule.
        let (least, most) = if is_bound {
            (count, count)
        } else {
            (0, self.free(set, from, to).min(left))
        };
        for amount in (least..=most.min(left)).rev() {
            let mut longer = taken.clone();
            if amount > 0 {
                longer.push((set, amount));
            }
            if self.share(place, ask, rest, left - amount, longer) {
                return true;
            }
        }
        false
    }

    /// How many of a set nobody uses at any moment of a span.
    fn free(&self, set: usize, from: WallMinute, to: WallMinute) -> u32 {
        let count = self.lending.count(set);
        let uses = self
            .profile
            .get(&set)
            .map(Vec::as_slice)
            .unwrap_or_default();
        // Use is highest where some use begins, or where the span does.
        let begins = uses.iter().map(|(begin, _, _)| *begin);
        let moments = begins
            .filter(|begin| *begin > from && *begin < to)
            .chain([from]);
        let most = moments
            .map(|moment| {
                let running = uses
                    .iter()
                    .filter(|(begin, end, _)| *begin <= moment && *end > moment);
                running.map(|(_, _, amount)| *amount).sum::<u32>()
            })
            .max();
        if to <= from {
            count
        } else {
            count.saturating_sub(most.unwrap_or(0))
        }
    }

    /// The ask that could not be served, and all that overlap it in its family, bound to what they had; the
    /// ask itself to the first sets that are large enough.
    fn bindings(&self) -> Vec<(usize, Sets)> {
        let Some((place, earlier)) = &self.failed else {
            return Vec::new();
        };
        let failed = self.order[*place];
        let (from, to) = self.spans[failed];
        let mut bindings: Vec<(usize, Sets)> = Vec::new();
        for (ask, handed) in earlier.iter().enumerate() {
            let (begin, end) = self.spans[ask];
            let meets = begin < to && from < end;
            let same = self.asks[ask].family == self.asks[failed].family;
            if meets && same && self.asks[ask].bound.is_none() && !handed.is_empty() {
                bindings.push((ask, handed.clone()));
            }
        }
        if self.asks[failed].bound.is_none() {
            let mut left = self.asks[failed].amount;
            let mut own = Vec::new();
            for (set, count) in self.lending.eligible(&self.asks[failed]) {
                let amount = count.min(left);
                if amount > 0 {
                    own.push((set, amount));
                    left -= amount;
                }
            }
            bindings.push((failed, own));
        }
        bindings
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::work::plan::{Lends, Lent};
    use crate::units::{Length, Newtons};
    use proptest::prelude::*;

    fn clamps(sets: &[(i64, u32)]) -> Lending {
        let lent: Vec<Lent> = sets
            .iter()
            .enumerate()
            .map(|(place, &(reach, count))| Lent {
                id: format!("set {place}"),
                what: Lends::Clamps {
                    reach: Length::from_mm(reach),
                    force: Newtons::default(),
                },
                count,
            })
            .collect();
        Lending::new(&lent)
    }

    fn ask(reach: i64, amount: u32) -> Ask {
        Ask {
            run: 0,
            until: 0,
            family: 0,
            level: Length::from_mm(reach).nm(),
            force: Newtons::default(),
            amount,
            bound: None,
        }
    }

    fn span(from: i64, to: i64) -> (WallMinute, WallMinute) {
        (WallMinute(from), WallMinute(to))
    }

    /// No pool is overdrawn at any minute.
    fn pools_suffice(
        sets: &[(i64, u32)],
        asks: &[Ask],
        spans: &[(WallMinute, WallMinute)],
    ) -> bool {
        let longest = spans.iter().map(|(_, to)| to.0).max().unwrap_or(0);
        (0..longest).all(|minute| {
            let running = |place: usize| spans[place].0.0 <= minute && spans[place].1.0 > minute;
            sets.iter()
                .map(|(reach, _)| Length::from_mm(*reach).nm())
                .chain([i64::MAX])
                .all(|level| {
                    // Asks that cannot be served by anything below the level.
                    let class = |ask: &Ask| {
                        let levels = sets.iter().map(|(reach, _)| Length::from_mm(*reach).nm());
                        levels
                            .filter(|level| *level >= ask.level)
                            .min()
                            .unwrap_or(i64::MAX)
                    };
                    let asked: u32 = (0..asks.len())
                        .filter(|&place| running(place) && class(&asks[place]) >= level)
                        .map(|place| asks[place].amount)
                        .sum();
                    let there: u32 = sets
                        .iter()
                        .filter(|(reach, _)| Length::from_mm(*reach).nm() >= level)
                        .map(|(_, count)| *count)
                        .sum();
                    asked <= there
                })
        })
    }

    /// Tries every set for every single clamp.
    fn by_trying_all(
        sets: &[(i64, u32)],
        asks: &[Ask],
        spans: &[(WallMinute, WallMinute)],
    ) -> bool {
        let single: Vec<(i64, (WallMinute, WallMinute))> = asks
            .iter()
            .zip(spans)
            .flat_map(|(ask, span)| std::iter::repeat_n((ask.level, *span), ask.amount as usize))
            .collect();
        fn place(
            sets: &[(i64, u32)],
            single: &[(i64, (WallMinute, WallMinute))],
            chosen: &mut Vec<usize>,
        ) -> bool {
            let next = chosen.len();
            if next == single.len() {
                return true;
            }
            for (set, (reach, count)) in sets.iter().enumerate() {
                if Length::from_mm(*reach).nm() < single[next].0 {
                    continue;
                }
                chosen.push(set);
                let fits = (0..20).all(|minute| {
                    let running = (0..=next).filter(|&other| {
                        let (from, to) = single[other].1;
                        chosen[other] == set && from.0 <= minute && to.0 > minute
                    });
                    running.count() <= *count as usize
                });
                if fits && place(sets, single, chosen) {
                    return true;
                }
                chosen.pop();
            }
            false
        }
        place(sets, &single, &mut Vec::new())
    }

    #[test]
    fn pools_that_suffice_do_not_always_hand_out() {
        let sets = [(300, 1), (600, 1)];
        let asks = [ask(600, 1), ask(300, 1), ask(300, 1), ask(600, 1)];
        let spans = [span(0, 1), span(0, 3), span(1, 4), span(3, 5)];
        assert!(pools_suffice(&sets, &asks, &spans));
        let handed = hand_out(&clamps(&sets), &asks, &spans, &[]);
        let Handed::Bind(bindings) = handed else {
            panic!("nothing can be handed out")
        };
        assert!(!bindings.is_empty());
    }

    #[test]
    fn the_shortest_sufficient_clamps_go_first() {
        let handed = hand_out(
            &clamps(&[(900, 4), (300, 2), (600, 4)]),
            &[ask(300, 3), ask(500, 2)],
            &[span(0, 2), span(0, 2)],
            &[Use {
                id: "set 2".to_owned(),
                from: WallMinute(1),
                to: WallMinute(2),
                amount: 1,
            }],
        );
        let Handed::All(handed) = handed else {
            panic!("there are enough")
        };
        // Two of 300, then one of 600; of the 600 one is used by others: two are left.
        assert_eq!(handed, [vec![(1, 2), (2, 1)], vec![(2, 2)]]);
    }

    proptest! {
        #[test]
        fn what_can_be_handed_out_is(
            counts in proptest::collection::vec(0..3_u32, 1..4),
            asks in proptest::collection::vec((1..4_i64, 1..3_u32, 0..6_i64, 1..5_i64), 0..6),
        ) {
            let sets: Vec<(i64, u32)> =
                counts.iter().enumerate().map(|(place, count)| (300 * (place as i64 + 1), *count)).collect();
            let spans: Vec<_> = asks.iter().map(|(_, _, from, long)| span(*from, from + long)).collect();
            let asks: Vec<Ask> =
                asks.iter().map(|(level, amount, _, _)| ask(300 * level - 50, *amount)).collect();
            let possible = by_trying_all(&sets, &asks, &spans);
            match hand_out(&clamps(&sets), &asks, &spans, &[]) {
                Handed::Bind(bindings) => {
                    prop_assert!(!possible);
                    prop_assert!(!bindings.is_empty());
                }
                Handed::All(handed) => {
                    prop_assert!(possible && pools_suffice(&sets, &asks, &spans));
                    for (ask, handed) in asks.iter().zip(&handed) {
                        prop_assert_eq!(handed.iter().map(|(_, amount)| amount).sum::<u32>(), ask.amount);
                        prop_assert!(handed.iter().all(|(set, _)| Length::from_mm(sets[*set].0).nm() >= ask.level));
                    }
                    for (set, (_, count)) in sets.iter().enumerate() {
                        for minute in 0..20 {
                            let running = (0..asks.len()).filter(|&place| spans[place].0.0 <= minute && spans[place].1.0 > minute);
                            let used: u32 = running
                                .flat_map(|place| handed[place].iter().filter(|(other, _)| *other == set))
                                .map(|(_, amount)| amount)
                                .sum();
                            prop_assert!(used <= *count);
                        }
                    }
                }
            }
        }
    }
}

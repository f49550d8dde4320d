//! Time-table propagation of one resource, with explanations that hold for a single minute.
//!
//! A span runs from the value of one variable to the value of another (the same one for a task,
//! two different ones for a hold) plus a length. Between its latest start and its earliest end it
//! uses the resource for certain. Where certain use leaves no room for a further span at some
//! minute, that span starts after or ends by it: the facts that explain this are the certain uses
//! at the minute, and that the span would otherwise contain it (Schutt et al. 2011).

use super::trail::{Crossed, Fact, Reason, Trail};

/// Use of a resource from the value of variable `start` to the value of `end` plus `length`.
#[derive(Clone, Copy, Debug)]
pub struct Span {
    pub start: usize,
    pub end: usize,
    pub length: i64,
    pub amount: i64,
}

impl Span {
    fn starts_by(&self, minute: i64) -> Fact {
        Fact::at_most(self.start, minute)
    }

    fn ends_after(&self, minute: i64) -> Fact {
        Fact::at_least(self.end, minute + 1 - self.length)
    }

    fn latest_start(&self, trail: &Trail) -> i64 {
        trail.upper(self.start)
    }

    fn earliest_end(&self, trail: &Trail) -> i64 {
        trail.lower(self.end) + self.length
    }
}

#[derive(Clone, Copy, Debug)]
struct Segment {
    from: i64,
    to: i64,
    level: i64,
}

#[derive(Clone, Debug)]
pub struct Cumulative {
    capacity: i64,
    spans: Vec<Span>,
    /// What is used in any case: minute and change of level, in order.
    given: Vec<(i64, i64)>,
    /// Begins and ends of certain use, kept nearly in order from call to call: span and whether it
    /// is the end.
    events: Vec<(i64, usize, bool)>,
    segments: Vec<Segment>,
    reason: Vec<Fact>,
}

/// Facts that cannot all hold.
pub type Conflict = Vec<Fact>;

impl Cumulative {
    pub fn new(capacity: i64, spans: Vec<Span>, given: Vec<(i64, i64)>) -> Cumulative {
        let events = (0..spans.len())
            .flat_map(|span| [(0, span, false), (0, span, true)])
            .collect();
        Cumulative {
            capacity,
            spans,
            given,
            events,
            segments: Vec::new(),
            reason: Vec::new(),
        }
    }

    pub fn spans(&self) -> &[Span] {
        &self.spans
    }

    /// Raises bounds by certain use. The caller calls again until nothing changes.
    pub fn propagate(&mut self, trail: &mut Trail) -> Result<(), Conflict> {
        let highest = self.build(trail);
        if highest > self.capacity {
            let over = self
                .segments
                .iter()
                .find(|segment| segment.level > self.capacity);
            let over = over.expect("the highest level is one of them");
            let minute = over.from + (over.to - over.from) / 2;
            self.explain(trail, minute, 0, None);
            return Err(self.reason.clone());
        }
        for index in 0..self.spans.len() {
            if highest + self.spans[index].amount > self.capacity {
                self.push_start(trail, index)?;
                self.push_end(trail, index)?;
            }
        }
        Ok(())
    }

    /// Sums up certain use; returns the highest level.
    fn build(&mut self, trail: &Trail) -> i64 {
        for event in &mut self.events {
            let span = &self.spans[event.1];
            let (from, to) = (span.latest_start(trail), span.earliest_end(trail));
            // A span without certain use begins and ends at the same minute.
            event.0 = if event.2 { to.max(from) } else { from };
        }
        // Insertion: few events move between two calls.
        for place in 1..self.events.len() {
            let mut at = place;
            while at > 0 && self.events[at - 1].0 > self.events[at].0 {
                self.events.swap(at - 1, at);
                at -= 1;
            }
        }
        self.segments.clear();
        let (mut level, mut highest) = (0, 0);
        let (mut next_event, mut next_given) = (0, 0);
        let mut begun = i64::MIN;
        loop {
            let event = self.events.get(next_event).map(|event| event.0);
            let given = self.given.get(next_given).map(|given| given.0);
            let Some(minute) = event.into_iter().chain(given).min() else {
                break;
            };
            if level > 0 && begun < minute {
                self.segments.push(Segment {
                    from: begun,
                    to: minute,
                    level,
                });
                highest = highest.max(level);
            }
            begun = minute;
            while let Some(&(at, span, is_end)) = self.events.get(next_event)
                && at == minute
            {
                let amount = self.spans[span].amount;
                level += if is_end { -amount } else { amount };
                next_event += 1;
            }
            while let Some(&(at, change)) = self.given.get(next_given)
                && at == minute
            {
                level += change;
                next_given += 1;
            }
        }
        highest
    }

    fn is_certain(&self, trail: &Trail, span: &Span, minute: i64) -> bool {
        span.latest_start(trail) <= minute && minute < span.earliest_end(trail)
    }

    /// Fills `reason` with certain uses at `minute` that, with `amount` more, exceed the capacity:
    /// as few as possible, and rather those that need no decision.
    fn explain(&mut self, trail: &Trail, minute: i64, amount: i64, without: Option<usize>) {
        self.reason.clear();
        let given: i64 = self
            .given
            .iter()
            .take_while(|&&(at, _)| at <= minute)
            .map(|&(_, change)| change)
            .sum();
        let mut missing = self.capacity + 1 - amount - given;
        let mut others: Vec<(usize, i64, usize)> = Vec::new();
        for (index, span) in self.spans.iter().enumerate() {
            if Some(index) == without || !self.is_certain(trail, span, minute) {
                continue;
            }
            let facts = [span.starts_by(minute), span.ends_after(minute)];
            let decided = facts.iter().filter(|&&fact| !trail.is_root(fact)).count();
            if decided == 0 {
                missing -= span.amount;
            } else {
                others.push((decided, span.amount, index));
            }
        }
        others.sort_unstable_by_key(|&(decided, amount, index)| (-amount, decided, index));
        let total: i64 = others.iter().map(|other| other.1).sum();
        let mut surplus = total - missing;
        // Smaller ones are left out first, while the rest suffices.
        for &(_, amount, index) in others.iter().rev() {
            if surplus >= amount {
                surplus -= amount;
                continue;
            }
            let span = &self.spans[index];
            self.reason.push(span.starts_by(minute));
            self.reason.push(span.ends_after(minute));
        }
    }

    fn raise(&mut self, trail: &mut Trail, fact: Fact, because: Fact) -> Result<(), Conflict> {
        self.reason.push(because);
        let reason = trail.store(&self.reason);
        self.set(trail, fact, reason)
    }

    fn set(&mut self, trail: &mut Trail, fact: Fact, reason: Reason) -> Result<(), Conflict> {
        trail.raise(fact, reason).map(|_| ()).map_err(|Crossed| {
            self.reason.push(fact.not());
            self.reason.clone()
        })
    }

    fn push_start(&mut self, trail: &mut Trail, index: usize) -> Result<(), Conflict> {
        let span = self.spans[index];
        let most = self.capacity - span.amount;
        let mut start = trail.lower(span.start);
        let mut end = span.earliest_end(trail);
        let mut place = self.segments.partition_point(|segment| segment.to <= start);
        while let Some(&Segment { from, to, level }) = self.segments.get(place)
            && from < end
        {
            let latest = span.latest_start(trail);
            // Its own certain use is part of the level where it begins by `from`.
            if level <= most || to <= start || latest <= from {
                place += 1;
                continue;
            }
            let minute = to.min(end) - 1;
            self.explain(trail, minute, span.amount, Some(index));
            self.raise(
                trail,
                Fact::at_least(span.start, minute + 1),
                span.ends_after(minute),
            )?;
            let before = std::mem::replace(&mut start, trail.lower(span.start));
            end = span.earliest_end(trail);
            if to <= start || start == before {
                place += 1;
            }
        }
        Ok(())
    }

    fn push_end(&mut self, trail: &mut Trail, index: usize) -> Result<(), Conflict> {
        let span = self.spans[index];
        let most = self.capacity - span.amount;
        let mut start = span.latest_start(trail);
        let mut end = trail.upper(span.end) + span.length;
        let mut place = self.segments.partition_point(|segment| segment.from < end);
        while let Some(&Segment { from, to, level }) = place
            .checked_sub(1)
            .and_then(|place| self.segments.get(place))
            && to > start
        {
            let earliest = span.earliest_end(trail);
            if level <= most || from >= end || earliest >= to {
                place -= 1;
                continue;
            }
            let minute = from.max(start);
            self.explain(trail, minute, span.amount, Some(index));
            self.raise(
                trail,
                Fact::at_most(span.end, minute - span.length),
                span.starts_by(minute),
            )?;
            start = span.latest_start(trail);
            let before = std::mem::replace(&mut end, trail.upper(span.end) + span.length);
            if from >= end || end == before {
                place -= 1;
            }
        }
        Ok(())
    }
}

//! Which reduction to call for: the least one that will last, by whichever of
//! like plans these hands do best, with the reason.
//!
//! Fewer hands or an open item may put the best reduction out of reach and so
//! make a quicker one the choice. That must not make the call later, so the
//! choice carries what the better one would have taken: the longer time, and
//! the lower wind below which it has to be done.

use core::fmt;

use heapless::Vec;

use super::limits::{effective_limit, lower_of};
use super::time::{
    Circumstances, Feasibility, Obstacle, deadline, highest_deadline, longest_time,
    lowest_deadline, route_time,
};
use super::{Change, ItemId, Ladder, MAX_PLANS, MAX_ROUTE, PlanId};
use crate::boat::Crew;
use crate::text::{Text, format};
use crate::units::Knots;
use crate::view::CallTime;

/// Minutes for which a plan should be likely to last to be worth setting: the
/// time of a change and of a rest after it. Common practice, no source.
pub const WORTH_MINUTES: f64 = 45.0;

/// The change that is called for.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// The plan that is left.
    pub from: PlanId,
    /// The plan to be reached.
    pub to: PlanId,
    /// Every plan on the way, the last being `to`. More than one where no
    /// single change leads there.
    pub steps: Vec<PlanId, MAX_ROUTE>,
    /// Whether these hands can do it in this wind.
    pub feasibility: Feasibility,
    /// What it takes; where it cannot be done, what it would take.
    pub call_time: CallTime,
    /// Seconds that the call has to come sooner, because a better reduction
    /// that takes longer is out of reach.
    pub sooner_s: f64,
    /// True wind below which it has to be done.
    pub must_be_done_below: Option<Knots>,
    /// Why this one.
    pub reason: Reason,
}

impl Choice {
    /// The call time to reckon with, in seconds.
    pub fn reckoned_s(&self) -> f64 {
        self.call_time.total_s() + self.sooner_s
    }

    /// Whether the change between two plans is one of its steps.
    pub fn has_step(&self, from: PlanId, to: PlanId) -> bool {
        let befores = core::iter::once(&self.from).chain(&self.steps);
        befores.zip(&self.steps).any(|step| step == (&from, &to))
    }

    /// Whether a set-up item belongs to one of its changes.
    pub fn needs(&self, ladder: &Ladder, item: ItemId) -> bool {
        let route = self.route(ladder);
        route.iter().any(|change| change.setup.contains(&item))
    }

    /// Its changes, in order.
    pub fn route<'a>(&self, ladder: &'a Ladder) -> Vec<&'a Change, MAX_ROUTE> {
        let befores = core::iter::once(&self.from).chain(&self.steps);
        befores
            .zip(&self.steps)
            .filter_map(|(from, to)| ladder.change(*from, *to))
            .collect()
    }
}

/// Why a reduction was chosen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reason {
    /// The next one, and it will last.
    Next,
    /// One that would come sooner would not last.
    WouldNotLast {
        /// The first that was passed over.
        passed_over: PlanId,
    },
    /// It is done sooner than another of like area.
    Quicker {
        /// The other.
        than: PlanId,
        /// By so many minutes.
        by_min: f64,
    },
    /// It can be done in more wind than another of like area.
    StandsMoreWind {
        /// The other.
        than: PlanId,
    },
    /// Another would be better but cannot be done.
    OutOfReach {
        /// The other.
        better: PlanId,
        /// What stands in its way.
        obstacle: Obstacle,
    },
    /// No plan below will last; this one lasts longest.
    LastsLongest,
    /// Nothing can be done by these hands in this wind; this would be first.
    NothingPossible(Obstacle),
}

/// The words where there is nothing to explain.
pub const NEXT_RUNG: &str = "next rung down";

impl Reason {
    /// In one line.
    pub fn words(&self, ladder: &Ladder) -> Text<96> {
        let short = |id: PlanId| ladder.plan(id).map_or("?", |plan| plan.short.as_str());
        match *self {
            Reason::Next => format(format_args!("{NEXT_RUNG}")),
            Reason::WouldNotLast { passed_over } => {
                format(format_args!("{} would not last", short(passed_over)))
            }
            Reason::Quicker { than, by_min } => {
                format(format_args!("{by_min:.0} min quicker than {}", short(than)))
            }
            Reason::StandsMoreWind { than } => format(format_args!(
                "can be done in more wind than {}",
                short(than)
            )),
            Reason::OutOfReach { better, obstacle } => {
                format(format_args!("{}: {obstacle}", short(better)))
            }
            Reason::LastsLongest => format(format_args!("nothing below will last")),
            Reason::NothingPossible(obstacle) => format(format_args!("{obstacle}")),
        }
    }
}

impl fmt::Display for Obstacle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Obstacle::TooFewHands { need, have } => {
                write!(f, "takes {need} people, {have} aboard")
            }
            Obstacle::TooMuchWind { highest } => {
                write!(f, "only up to {:.0} kn", highest.get())
            }
        }
    }
}

/// The reduction to call for from a plan; none where the ladder leads no
/// further down. `lasts_min` tells for how many minutes from now a plan would
/// last by the outlook, infinite where no end is in sight; what lasts less than
/// [`WORTH_MINUTES`] is passed over if anything below lasts longer.
pub fn choose(
    ladder: &Ladder,
    crew: &Crew,
    from: PlanId,
    now: &Circumstances,
    lasts_min: impl Fn(PlanId) -> f64,
) -> Option<Choice> {
    let table = Table::of(ladder, crew, from, now, &lasts_min);
    let mut passed: Vec<&Candidate<'_>, MAX_PLANS> = Vec::new();
    for rung in table.rungs() {
        let members = || table.members(rung);
        let best = members()
            .filter(|c| c.feasibility.job().is_some())
            .min_by(|a, b| a.compare(b));
        match best {
            Some(best) => return Some(table.choice(best, &passed)),
            None => passed.extend(members()),
        }
    }
    table.nothing_possible(&passed)
}

/// The nearest plan up that these hands can set in this wind, for a hint at
/// shaking out. Whether it would last is for the caller to judge.
pub fn choose_up(
    ladder: &Ladder,
    crew: &Crew,
    from: PlanId,
    now: &Circumstances,
) -> Option<Choice> {
    let rung = ladder.rung(from);
    ladder
        .increases(from)
        .filter(|change| ladder.rung(change.to) != rung)
        .find_map(|change| {
            let feasibility = route_time(ladder, crew, &[change], now);
            let job = feasibility.job()?;
            let mut steps = Vec::new();
            steps.push(change.to).ok()?;
            Some(Choice {
                from,
                to: change.to,
                steps,
                call_time: job.time,
                feasibility,
                sooner_s: 0.0,
                must_be_done_below: None,
                reason: Reason::Next,
            })
        })
}

/// A plan that could be gone down to.
struct Candidate<'a> {
    to: PlanId,
    rung: PlanId,
    route: Vec<&'a Change, MAX_ROUTE>,
    lasts_min: f64,
    feasibility: Feasibility,
    /// By these hands.
    call_time: CallTime,
    /// By the fewest hands that could do it.
    longest: CallTime,
    /// For these hands.
    below: Option<Knots>,
}

impl Candidate<'_> {
    /// Better first: can be done in more wind, then is done sooner.
    fn compare(&self, other: &Self) -> core::cmp::Ordering {
        let wind = |c: &Self| below_or_any(c.below);
        wind(other)
            .total_cmp(&wind(self))
            .then(self.seconds().total_cmp(&other.seconds()))
            .then(self.to.cmp(&other.to))
    }

    fn seconds(&self) -> f64 {
        self.call_time.total_s()
    }
}

/// A wind limit as a number that compares; no limit is above all.
fn below_or_any(below: Option<Knots>) -> f64 {
    below.map_or(f64::INFINITY, Knots::get)
}

/// All candidates from one plan.
struct Table<'a> {
    ladder: &'a Ladder,
    crew: &'a Crew,
    from: PlanId,
    now: &'a Circumstances,
    candidates: Vec<Candidate<'a>, MAX_PLANS>,
}

impl<'a> Table<'a> {
    fn of(
        ladder: &'a Ladder,
        crew: &'a Crew,
        from: PlanId,
        now: &'a Circumstances,
        lasts_min: &impl Fn(PlanId) -> f64,
    ) -> Self {
        let mut table = Table {
            ladder,
            crew,
            from,
            now,
            candidates: Vec::new(),
        };
        let own = ladder.rung(from);
        let below = (0..ladder.plans.len()).map(|place| PlanId(place as u8));
        for to in below.filter(|to| *to > from && ladder.rung(*to) != own) {
            if let Some(route) = ladder.route(from, to) {
                let candidate = table.candidate(to, route, lasts_min(to));
                // As many places as plans: never full.
                let _ = table.candidates.push(candidate);
            }
        }
        table
    }

    fn candidate(
        &self,
        to: PlanId,
        route: Vec<&'a Change, MAX_ROUTE>,
        lasts_min: f64,
    ) -> Candidate<'a> {
        let feasibility = route_time(self.ladder, self.crew, &route, self.now);
        let longest = longest_time(self.ladder, self.crew, &route, self.now);
        Candidate {
            to,
            rung: self.ladder.rung(to),
            lasts_min: if lasts_min.is_nan() { 0.0 } else { lasts_min },
            call_time: feasibility.job().map_or(longest, |job| job.time),
            feasibility,
            longest,
            below: self.cap(deadline(self.ladder, self.crew, &route, self.now)),
            route,
        }
    }

    /// What lies above the limit of the plan that is left makes no difference.
    fn cap(&self, below: Option<Knots>) -> Option<Knots> {
        let limit = self
            .ladder
            .plan(self.from)
            .map(|plan| effective_limit(plan, self.now.point));
        let own = limit.and_then(|limit| limit.mean.or(limit.gust));
        match (below, own) {
            (Some(below), Some(own)) if below >= own => None,
            (below, _) => below,
        }
    }

    /// Rungs in the order in which they are tried: first those that last,
    /// from most sail to least, then the others, the longest lasting first.
    fn rungs(&self) -> Vec<PlanId, MAX_PLANS> {
        let mut rungs: Vec<(PlanId, f64), MAX_PLANS> = Vec::new();
        for candidate in &self.candidates {
            match rungs.iter_mut().find(|(rung, _)| *rung == candidate.rung) {
                Some((_, lasts)) => *lasts = lasts.max(candidate.lasts_min),
                None => {
                    let _ = rungs.push((candidate.rung, candidate.lasts_min));
                }
            }
        }
        rungs.sort_unstable_by(|(a, a_lasts), (b, b_lasts)| {
            let is_short = |lasts: &f64| *lasts < WORTH_MINUTES;
            let by_class = is_short(a_lasts).cmp(&is_short(b_lasts));
            let by_lasting = if is_short(a_lasts) {
                b_lasts.total_cmp(a_lasts).then(b.cmp(a))
            } else {
                a.cmp(b)
            };
            by_class.then(by_lasting)
        });
        rungs.into_iter().map(|(rung, _)| rung).collect()
    }

    /// The plans of a rung that come into question: those that last, or all
    /// where none does.
    fn members(&self, rung: PlanId) -> impl Iterator<Item = &Candidate<'a>> {
        let own = move |c: &&Candidate<'a>| c.rung == rung;
        let lasting = |c: &&Candidate<'a>| c.lasts_min >= WORTH_MINUTES;
        let any_lasts = self.candidates.iter().filter(own).any(|c| lasting(&c));
        self.candidates
            .iter()
            .filter(own)
            .filter(move |c| !any_lasts || lasting(c))
    }

    fn choice(&self, best: &Candidate<'a>, passed: &[&Candidate<'a>]) -> Choice {
        let better = self
            .members(best.rung)
            .filter(|c| self.could_stand_more(c) > below_or_any(best.below));
        let longest_s = better
            .chain(passed.iter().copied())
            .map(|c| c.longest.total_s())
            .fold(best.seconds(), f64::max);
        let lowest = passed
            .iter()
            .map(|c| self.cap(lowest_deadline(self.ladder, self.crew, &c.route, self.now)))
            .fold(best.below, lower_of);
        Choice {
            from: self.from,
            to: best.to,
            steps: best.route.iter().map(|change| change.to).collect(),
            feasibility: best.feasibility,
            call_time: best.call_time,
            sooner_s: longest_s - best.seconds(),
            must_be_done_below: lowest,
            reason: self.reason(best, passed),
        }
    }

    /// The wind in which a candidate could be done with hands enough and all
    /// set-up ready.
    fn could_stand_more(&self, candidate: &Candidate<'a>) -> f64 {
        below_or_any(self.cap(highest_deadline(&candidate.route, self.now)))
    }

    fn reason(&self, best: &Candidate<'a>, passed: &[&Candidate<'a>]) -> Reason {
        let others = || self.members(best.rung).filter(|c| c.to != best.to);
        let blocked = passed.iter().copied().chain(others());
        for other in blocked {
            if let Feasibility::Impossible(obstacle) = other.feasibility {
                return Reason::OutOfReach {
                    better: other.to,
                    obstacle,
                };
            }
        }
        if best.lasts_min < WORTH_MINUTES {
            return Reason::LastsLongest;
        }
        if let Some(first) = self.candidates.iter().find(|c| c.rung < best.rung) {
            return Reason::WouldNotLast {
                passed_over: first.to,
            };
        }
        match others().next() {
            Some(other) if below_or_any(other.below) < below_or_any(best.below) => {
                Reason::StandsMoreWind { than: other.to }
            }
            Some(other) => Reason::Quicker {
                than: other.to,
                by_min: (other.seconds() - best.seconds()) / 60.0,
            },
            None => Reason::Next,
        }
    }

    fn nothing_possible(&self, passed: &[&Candidate<'a>]) -> Option<Choice> {
        let first = passed.first()?;
        let Feasibility::Impossible(obstacle) = first.feasibility else {
            return None;
        };
        Some(Choice {
            reason: Reason::NothingPossible(obstacle),
            ..self.choice(first, passed)
        })
    }
}

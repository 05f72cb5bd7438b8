//! The crew: hears orders, and needs time for them.
//!
//! Work is a short list of tasks, done one after the other: be told, come on
//! deck, set up, change. Darkness, a rough sea and missing hands slow the hand
//! at work now, so a job begun in daylight drags on when night falls. An order
//! may go unheard or be obeyed late, by odds that the scenario sets.

use std::collections::VecDeque;

use serde::Deserialize;

use crate::boat::SailRung;
use crate::dice::Dice;

/// Slower by so much in the dark (common practice: 1.3 to 1.5).
const IN_THE_DARK: f64 = 1.4;
/// Slower by so much in a sea over [`ROUGH_M`] (common practice).
const IN_A_ROUGH_SEA: f64 = 1.5;
/// Significant height of a sea that makes deck work slow: about force 6.
const ROUGH_M: f64 = 2.5;
/// Slower by so much with fewer hands than the change is made for (common
/// practice: alone 1.5 to 2).
const SHORT_HANDED: f64 = 1.75;
/// Quicker by so much with twice the hands.
const MANY_HANDS: f64 = 0.8;
/// How long hands stay on deck after the last task.
const STAYS_ON_DECK_S: f64 = 1800.0;

/// The crew section of a scenario.
#[derive(Clone, Debug, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CrewPlan {
    /// Hands that can be called.
    pub hands: u8,
    /// Minutes until they are dressed and on deck.
    pub muster_min: f64,
    /// Odds that an order is heard at all.
    pub hears: f64,
    /// Mean minutes they let pass before they begin.
    pub dawdles_min: f64,
    /// Spread of the time a task takes (of its logarithm).
    pub spread: f64,
}

impl Default for CrewPlan {
    fn default() -> Self {
        Self {
            hands: 2,
            muster_min: 4.0,
            hears: 0.95,
            dawdles_min: 1.0,
            spread: 0.2,
        }
    }
}

/// What a crew can be told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Order {
    /// Come on deck and set up for the next reduction.
    Prepare,
    /// Go down one sail plan.
    Reduce,
    /// Go up one sail plan.
    ShakeOut,
    /// Leave what is not begun.
    StandDown,
}

/// What a crew did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CrewEvent {
    /// The order is understood.
    Heard(Order),
    /// The order was not heard; it has to be repeated.
    Missed(Order),
    /// The hands are on deck.
    OnDeck,
    /// All is ready for the change down to this rung.
    SetUp(usize),
    /// The change to this rung has begun.
    Begun(usize),
    /// This rung is set.
    Changed(usize),
}

/// What slows the hands down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Light {
    /// Enough light to work by.
    Day,
    /// Civil twilight is over.
    Dark,
}

/// The crew at work.
#[derive(Clone, Debug)]
pub struct Crew {
    plan: CrewPlan,
    rung: usize,
    tasks: VecDeque<Task>,
    ready_for: Option<usize>,
    /// Seconds since the last task, if they are on deck.
    on_deck_s: Option<f64>,
    events: Vec<CrewEvent>,
    dice: Dice,
}

#[derive(Clone, Copy, Debug)]
struct Task {
    kind: TaskKind,
    left_s: f64,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum TaskKind {
    Dawdle,
    Muster,
    SetUp(usize),
    Change(usize),
}

impl Crew {
    /// A crew below, with `rung` set.
    pub fn new(plan: CrewPlan, rung: usize, seed: u64) -> Self {
        Self {
            plan,
            rung,
            tasks: VecDeque::new(),
            ready_for: None,
            on_deck_s: None,
            events: Vec::new(),
            dice: Dice::new(seed, "crew"),
        }
    }

    /// So many hands can be called from now on.
    pub fn set_hands(&mut self, hands: u8) {
        self.plan.hands = hands;
    }

    /// The rung that is set.
    pub fn rung(&self) -> usize {
        self.rung
    }

    /// True while there is something to do.
    pub fn is_at_work(&self) -> bool {
        !self.tasks.is_empty()
    }

    /// True from the first minute of a change to its last.
    pub fn is_changing(&self) -> bool {
        matches!(
            self.tasks.front(),
            Some(Task {
                kind: TaskKind::Change(_),
                ..
            })
        )
    }

    /// Takes an order; whether it was heard is among the events.
    pub fn order(&mut self, order: Order, ladder: &[SailRung]) {
        if !self.dice.happens(self.plan.hears) {
            self.events.push(CrewEvent::Missed(order));
            return;
        }
        self.events.push(CrewEvent::Heard(order));
        match order {
            Order::Prepare => self.prepare(ladder),
            Order::Reduce => self.reduce(ladder),
            Order::ShakeOut => self.shake_out(ladder),
            Order::StandDown => self
                .tasks
                .retain(|task| matches!(task.kind, TaskKind::Change(_))),
        }
    }

    /// One step of work in this light and sea.
    pub fn step(&mut self, dt_s: f64, light: Light, sea_m: f64, ladder: &[SailRung]) {
        let Some(task) = self.tasks.front().copied() else {
            self.rest(dt_s);
            return;
        };
        let slowness = match task.kind {
            TaskKind::Dawdle | TaskKind::Muster => 1.0,
            TaskKind::SetUp(rung) | TaskKind::Change(rung) => {
                let needed = ladder.get(rung).map_or(2, |rung| rung.hands);
                slowness(self.plan.hands, needed, light, sea_m)
            }
        };
        let left_s = task.left_s - dt_s / slowness;
        if left_s > 0.0 {
            if let Some(front) = self.tasks.front_mut() {
                front.left_s = left_s;
            }
            return;
        }
        self.tasks.pop_front();
        self.finish(task.kind);
        self.announce_begin();
    }

    /// What happened since last asked.
    pub fn drain_events(&mut self) -> impl Iterator<Item = CrewEvent> + '_ {
        self.events.drain(..)
    }

    fn prepare(&mut self, ladder: &[SailRung]) {
        let next = self.rung + 1;
        let Some(rung) = ladder.get(next) else {
            return;
        };
        if self.is_at_work() || self.ready_for == Some(next) {
            return;
        }
        self.turn_out();
        self.push(TaskKind::SetUp(next), rung.setup_min);
    }

    fn reduce(&mut self, ladder: &[SailRung]) {
        let next = self.rung + 1;
        let Some(rung) = ladder.get(next) else {
            return;
        };
        if self.has_change() {
            return;
        }
        if !self.is_at_work() && self.ready_for != Some(next) {
            self.prepare(ladder);
        } else if !self.is_at_work() {
            self.turn_out();
        }
        self.push(TaskKind::Change(next), rung.change_min);
        self.announce_begin();
    }

    fn shake_out(&mut self, ladder: &[SailRung]) {
        let (Some(up), Some(rung)) = (self.rung.checked_sub(1), ladder.get(self.rung)) else {
            return;
        };
        if self.is_at_work() {
            return;
        }
        self.turn_out();
        self.push(TaskKind::Change(up), rung.change_min);
    }

    fn turn_out(&mut self) {
        let dawdle_min = self.dice.exponential(self.plan.dawdles_min);
        self.push(TaskKind::Dawdle, dawdle_min);
        if self.on_deck_s.is_none() {
            self.push(TaskKind::Muster, self.plan.muster_min);
        }
    }

    fn push(&mut self, kind: TaskKind, minutes: f64) {
        let left_s = 60.0 * minutes * self.dice.factor(self.plan.spread);
        self.tasks.push_back(Task { kind, left_s });
    }

    fn has_change(&self) -> bool {
        self.tasks
            .iter()
            .any(|task| matches!(task.kind, TaskKind::Change(_)))
    }

    fn finish(&mut self, kind: TaskKind) {
        match kind {
            TaskKind::Dawdle => {}
            TaskKind::Muster => {
                self.on_deck_s = Some(0.0);
                self.events.push(CrewEvent::OnDeck);
            }
            TaskKind::SetUp(rung) => {
                self.ready_for = Some(rung);
                self.on_deck_s = Some(0.0);
                self.events.push(CrewEvent::SetUp(rung));
            }
            TaskKind::Change(rung) => {
                self.rung = rung;
                self.ready_for = None;
                self.on_deck_s = Some(0.0);
                self.events.push(CrewEvent::Changed(rung));
            }
        }
    }

    fn announce_begin(&mut self) {
        if let Some(Task {
            kind: TaskKind::Change(rung),
            ..
        }) = self.tasks.front()
            && self.events.last() != Some(&CrewEvent::Begun(*rung))
        {
            self.events.push(CrewEvent::Begun(*rung));
        }
    }

    fn rest(&mut self, dt_s: f64) {
        if let Some(idle_s) = &mut self.on_deck_s {
            *idle_s += dt_s;
            if *idle_s > STAYS_ON_DECK_S {
                self.on_deck_s = None;
            }
        }
    }
}

/// How much longer a task takes than on a quiet day with the hands it is made for.
pub fn slowness(hands: u8, needed: u8, light: Light, sea_m: f64) -> f64 {
    let hands = match (hands, needed) {
        (hands, needed) if hands < needed => SHORT_HANDED,
        (hands, needed) if hands >= needed.saturating_mul(2) => MANY_HANDS,
        _ => 1.0,
    };
    let light = match light {
        Light::Day => 1.0,
        Light::Dark => IN_THE_DARK,
    };
    let sea = if sea_m > ROUGH_M { IN_A_ROUGH_SEA } else { 1.0 };
    hands * light * sea
}

#[cfg(test)]
mod tests {
    use super::*;

    fn exact(hands: u8) -> CrewPlan {
        CrewPlan {
            hands,
            hears: 1.0,
            dawdles_min: 0.0,
            spread: 0.0,
            ..CrewPlan::default()
        }
    }

    /// Minutes until `wanted` happens.
    fn minutes_until(crew: &mut Crew, wanted: CrewEvent, light: Light, sea_m: f64) -> Option<f64> {
        let ladder = SailRung::teasel();
        for second in 1..=36_000 {
            crew.step(1.0, light, sea_m, &ladder);
            if crew.drain_events().any(|event| event == wanted) {
                return Some(f64::from(second) / 60.0);
            }
        }
        None
    }

    fn reduction_min(hands: u8, light: Light, sea_m: f64) -> Option<f64> {
        let mut crew = Crew::new(exact(hands), 2, 1);
        crew.order(Order::Reduce, &SailRung::teasel());
        minutes_until(&mut crew, CrewEvent::Changed(3), light, sea_m)
    }

    #[track_caller]
    fn assert_about(minutes: Option<f64>, expected: f64) {
        let minutes = minutes.expect("the change is made");
        assert!((minutes - expected).abs() < 0.2, "{minutes} min");
    }

    #[test]
    fn a_reduction_takes_muster_set_up_and_change() {
        // Muster 4, set-up 6, change 10.
        assert_about(reduction_min(2, Light::Day, 1.0), 4.0 + 16.0);
    }

    #[test]
    fn dark_sea_and_missing_hands_slow_the_work_but_not_the_muster() {
        assert_about(reduction_min(2, Light::Dark, 1.0), 4.0 + 16.0 * 1.4);
        assert_about(reduction_min(2, Light::Day, 4.0), 4.0 + 16.0 * 1.5);
        assert_about(
            reduction_min(1, Light::Dark, 4.0),
            4.0 + 16.0 * 1.75 * 1.4 * 1.5,
        );
        assert_about(reduction_min(6, Light::Day, 1.0), 4.0 + 16.0 * 0.8);
    }

    #[test]
    fn a_crew_that_is_ready_needs_the_change_alone() {
        let mut crew = Crew::new(exact(2), 2, 1);
        let ladder = SailRung::teasel();
        crew.order(Order::Prepare, &ladder);
        assert_about(
            minutes_until(&mut crew, CrewEvent::SetUp(3), Light::Day, 1.0),
            10.0,
        );
        crew.order(Order::Reduce, &ladder);
        assert_about(
            minutes_until(&mut crew, CrewEvent::Changed(3), Light::Day, 1.0),
            10.0,
        );
        assert_eq!(crew.rung(), 3);
    }

    #[test]
    fn a_second_order_does_not_reduce_twice() {
        let ladder = SailRung::teasel();
        let mut crew = Crew::new(exact(2), 0, 1);
        crew.order(Order::Reduce, &ladder);
        crew.order(Order::Reduce, &ladder);
        assert!(minutes_until(&mut crew, CrewEvent::Changed(1), Light::Day, 1.0).is_some());
        assert!(minutes_until(&mut crew, CrewEvent::Changed(2), Light::Day, 1.0).is_none());
    }

    #[test]
    fn a_deaf_crew_does_nothing_and_says_so() {
        let plan = CrewPlan {
            hears: 0.0,
            ..exact(2)
        };
        let mut crew = Crew::new(plan, 0, 1);
        crew.order(Order::Reduce, &SailRung::teasel());
        let events: Vec<_> = crew.drain_events().collect();
        assert_eq!(events, [CrewEvent::Missed(Order::Reduce)]);
        assert!(!crew.is_at_work());
    }

    #[test]
    fn there_is_nothing_under_the_last_rung_and_nothing_over_the_first() {
        let ladder = SailRung::teasel();
        let mut crew = Crew::new(exact(2), ladder.len() - 1, 1);
        crew.order(Order::Reduce, &ladder);
        assert!(!crew.is_at_work());
        let mut crew = Crew::new(exact(2), 0, 1);
        crew.order(Order::ShakeOut, &ladder);
        assert!(!crew.is_at_work());
    }
}

//! The closed loop: a crew that follows an adviser, and what that costs.
//!
//! The same passages are sailed again and again, each time with another
//! [`Adviser`] at the skipper's ear. The crew has eyes of its own in every run,
//! reduces late by them, and shakes out by them; what an adviser adds is
//! counted in minutes past the limit, and what it costs in reductions that the
//! wind did not ask for afterwards.

mod advisers;
mod cringle;
mod table;
mod tally;

use std::collections::VecDeque;

use crate::crew::{CrewEvent, Order};
use crate::dice::Dice;
use crate::instruments::Sentence;
use crate::passage::{Passage, Truth};
use crate::scenario::Scenario;

pub use advisers::{FixedAlarm, Nobody};
pub use cringle::Cringle;
pub use table::{Entry, Follows, markdown, table};
pub use tally::{Bounds, Tally, bounds};

/// Someone who hears the wire and says when to reduce.
pub trait Adviser {
    /// One sentence, with the time of its last byte.
    fn hear(&mut self, sentence: &Sentence);

    /// The crew did something that it tells by key: set-up done, plan changed.
    fn crew_did(&mut self, event: CrewEvent, now_s: f64);

    /// What it says now; asked every second. The crew takes the same advice
    /// repeated as one.
    fn advise(&mut self, now_s: f64) -> Option<Advice>;
}

/// What an adviser can say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Advice {
    /// Get ready for the next reduction.
    Prepare,
    /// Reduce now.
    Reduce,
}

/// An order that was not heard, and advice that stands, is given again after so
/// long. A crew at it already takes it as one.
const REPEATS_AFTER_S: f64 = 300.0;
/// A watch notices that she is pressed after so long on average, by day and by
/// night (common practice, no source).
const NOTICES_BY_DAY_S: f64 = 600.0;
const NOTICES_BY_NIGHT_S: f64 = 1200.0;
/// Sail is shaken out when the mean of so long is under this share of the
/// limit that would then hold.
const SHAKES_OUT_UNDER: f64 = 0.8;
const CALM_FOR_MIN: usize = 30;
/// A reduction was needed if the ten-minute mean went past the old limit
/// within so long after it.
const NEEDED_WITHIN_S: f64 = 90.0 * 60.0;
const NEEDED_MEAN_MIN: usize = 10;

/// Sails a scenario to its end with this adviser.
pub fn sail_with(scenario: Scenario, seed: u64, adviser: &mut dyn Adviser) -> Tally {
    let mut run = Run {
        passage: Passage::new(scenario, seed),
        dice: Dice::new(seed, "watch on deck"),
        tally: Tally::default(),
        minute: Minute::default(),
        means: VecDeque::new(),
        last_advice: None,
        advised_at_s: 0.0,
        unheard: None,
        notices_at_s: None,
        pending: Vec::new(),
    };
    while !run.passage.is_over() {
        run.second(adviser);
    }
    run.finish()
}

struct Run {
    passage: Passage,
    dice: Dice,
    tally: Tally,
    minute: Minute,
    /// One-minute means of the true wind, newest last.
    means: VecDeque<f64>,
    last_advice: Option<Advice>,
    advised_at_s: f64,
    /// An order that fell on deaf ears, and when to give it again.
    unheard: Option<(Order, f64)>,
    notices_at_s: Option<f64>,
    pending: Vec<Reduction>,
}

/// A reduction that may yet prove needed.
#[derive(Clone, Copy, Debug)]
struct Reduction {
    at_s: f64,
    old_limit_kn: f64,
}

#[derive(Clone, Copy, Debug, Default)]
struct Minute {
    seconds: f64,
    tws_kn: f64,
    heel_deg: f64,
}

impl Run {
    fn second(&mut self, adviser: &mut dyn Adviser) {
        for sentence in self.passage.step(1.0) {
            adviser.hear(sentence);
        }
        let truth = self.passage.truth();
        self.note_crew(adviser);
        let advice = adviser.advise(truth.now_s);
        self.follow(advice, truth.now_s);
        self.give_again(truth.now_s);
        self.tally.second(&truth);
        self.minute.seconds += 1.0;
        self.minute.tws_kn += truth.tws_kn;
        self.minute.heel_deg += truth.heel_deg.abs();
        if self.minute.seconds >= 60.0 {
            self.end_minute(&truth);
        }
    }

    fn note_crew(&mut self, adviser: &mut dyn Adviser) {
        for (at_s, event) in self.passage.crew_events() {
            match event {
                CrewEvent::Begun(rung) => self.note_begin(at_s, rung),
                CrewEvent::Missed(order) => self.unheard = Some((order, at_s + REPEATS_AFTER_S)),
                CrewEvent::Heard(_) => self.unheard = None,
                CrewEvent::Changed(_) => {
                    self.notices_at_s = None;
                    // Whatever is said of the new plan is said anew.
                    self.last_advice = None;
                }
                CrewEvent::OnDeck | CrewEvent::SetUp(_) => {}
            }
            adviser.crew_did(event, at_s);
        }
    }

    fn note_begin(&mut self, at_s: f64, to: usize) {
        let now = self.passage.truth().rung;
        if to > now {
            self.tally.reductions += 1;
            self.pending.push(Reduction {
                at_s,
                old_limit_kn: self.passage.rung().limit_kn,
            });
        }
    }

    fn follow(&mut self, advice: Option<Advice>, now_s: f64) {
        if advice == self.last_advice && now_s - self.advised_at_s < REPEATS_AFTER_S {
            return;
        }
        self.last_advice = advice;
        self.advised_at_s = now_s;
        match advice {
            Some(Advice::Prepare) => self.passage.order(Order::Prepare),
            Some(Advice::Reduce) => self.passage.order(Order::Reduce),
            None => {
                if self.unheard.is_some_and(|(_, at_s)| at_s > now_s) {
                    self.unheard = None;
                }
            }
        }
    }

    fn give_again(&mut self, now_s: f64) {
        if let Some((order, at_s)) = self.unheard
            && now_s >= at_s
        {
            self.unheard = None;
            self.passage.order(order);
        }
    }

    fn end_minute(&mut self, truth: &Truth) {
        let minute = core::mem::take(&mut self.minute);
        let tws_kn = minute.tws_kn / minute.seconds;
        let heel_deg = minute.heel_deg / minute.seconds;
        let limit_kn = self.passage.rung().limit_kn;
        let heel_limit_deg = self.passage.scenario().boat.heel_limit_deg;
        self.tally.minutes += 1.0;
        if tws_kn > limit_kn {
            self.tally.over_wind_min += 1.0;
        }
        if heel_deg > heel_limit_deg {
            self.tally.over_heel_min += 1.0;
        }
        self.means.push_back(tws_kn);
        if self.means.len() > CALM_FOR_MIN {
            self.means.pop_front();
        }
        self.judge_pending(truth.now_s);
        self.look_around(truth, tws_kn > limit_kn || heel_deg > heel_limit_deg);
        self.shake_out();
    }

    /// The watch's own eyes, with nobody at its ear.
    fn look_around(&mut self, truth: &Truth, is_pressed: bool) {
        if !is_pressed {
            self.notices_at_s = None;
            return;
        }
        let mean_s = if truth.is_dark {
            NOTICES_BY_NIGHT_S
        } else {
            NOTICES_BY_DAY_S
        };
        let dice = &mut self.dice;
        let at_s = *self
            .notices_at_s
            .get_or_insert_with(|| truth.now_s + dice.exponential(mean_s));
        if truth.now_s >= at_s {
            self.notices_at_s = None;
            self.passage.order(Order::Reduce);
        }
    }

    fn shake_out(&mut self) {
        let Some(up) = self.passage.truth().rung.checked_sub(1) else {
            return;
        };
        let Some(up) = self.passage.ladder().get(up) else {
            return;
        };
        let bar_kn = SHAKES_OUT_UNDER * up.limit_kn;
        let is_calm = self.means.len() == CALM_FOR_MIN && mean(&self.means, CALM_FOR_MIN) < bar_kn;
        if is_calm && !self.passage.is_changing() && self.last_advice.is_none() {
            self.means.clear();
            self.passage.order(Order::ShakeOut);
        }
    }

    fn judge_pending(&mut self, now_s: f64) {
        let recent_kn = mean(&self.means, NEEDED_MEAN_MIN);
        let tally = &mut self.tally;
        self.pending.retain(|reduction| {
            if recent_kn > reduction.old_limit_kn {
                tally.needed += 1;
                return false;
            }
            if now_s - reduction.at_s > NEEDED_WITHIN_S {
                tally.needless += 1;
                return false;
            }
            true
        });
    }

    fn finish(mut self) -> Tally {
        self.tally.undecided = self.pending.len() as u32;
        self.tally.round_ups = self.passage.truth().round_ups;
        self.tally
    }
}

fn mean(values: &VecDeque<f64>, newest: usize) -> f64 {
    let count = values.len().min(newest);
    if count == 0 {
        return 0.0;
    }
    values.iter().rev().take(count).sum::<f64>() / count as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Says one thing from some minute on.
    struct Says {
        from_s: f64,
        advice: Advice,
        heard: u64,
        rung: usize,
    }

    impl Adviser for Says {
        fn hear(&mut self, _: &Sentence) {
            self.heard += 1;
        }

        fn crew_did(&mut self, event: CrewEvent, _: f64) {
            if let CrewEvent::Changed(rung) = event {
                self.rung = rung;
            }
        }

        fn advise(&mut self, now_s: f64) -> Option<Advice> {
            (now_s >= self.from_s && self.rung == 0).then_some(self.advice)
        }
    }

    fn says(from_min: f64) -> Says {
        Says {
            from_s: from_min * 60.0,
            advice: Advice::Reduce,
            heard: 0,
            rung: 0,
        }
    }

    fn scenario(name: &str) -> Scenario {
        let mut scenario = Scenario::builtin(name).expect("built in");
        scenario.crew.hears = 1.0;
        scenario
    }

    #[test]
    fn an_early_word_saves_minutes_past_the_limit() {
        let mut early = says(8.0);
        let with = sail_with(scenario("rising-breeze"), 3, &mut early);
        let without = sail_with(scenario("rising-breeze"), 3, &mut Nobody);
        assert!(early.heard > 10_000);
        assert!(with.reductions >= 1);
        assert!(
            with.over_wind_min + 3.0 < without.over_wind_min,
            "{with:?} {without:?}"
        );
        assert_eq!(with.minutes, 45.0);
    }

    #[test]
    fn a_reduction_in_a_steady_breeze_is_needless() {
        let mut story = scenario("steady-trade");
        story.minutes = 120.0;
        let tally = sail_with(story, 1, &mut says(2.0));
        assert!(tally.needless >= 1 && tally.needed == 0, "{tally:?}");
    }

    #[test]
    fn a_reduction_before_a_rise_is_needed() {
        let tally = sail_with(scenario("rising-breeze"), 1, &mut says(8.0));
        assert!(tally.needed >= 1, "{tally:?}");
        assert_eq!(tally.needless, 0, "{tally:?}");
    }

    #[test]
    fn a_deaf_crew_is_told_again() {
        let mut story = scenario("rising-breeze");
        story.crew.hears = 0.3;
        let tally = sail_with(story, 4, &mut says(2.0));
        assert!(tally.reductions >= 1, "{tally:?}");
    }
}

//! The made-up boat, sailed in real time on a thread of its own.
//!
//! Every tenth of a second: what was turned on the page is done, the passage
//! moves on, sentences go to the terminals, and what the crew did is told to
//! the daemon by key. The daemon's clock is the wall's, so the bench has one
//! pace: that of life.

use std::collections::VecDeque;
use std::sync::mpsc::{Receiver, TryRecvError};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use anyhow::Result;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::daemon::{Daemon, lock};
use super::strip::{Estimate, Strip};
use crate::boat::Course;
use crate::boat_file::setup_name;
use crate::crew::{CrewEvent, Order};
use crate::faults::{Disk, FaultKind};
use crate::maths::{ms, rad};
use crate::passage::{Passage, Truth};
use crate::sink::Sinks;
use crate::weather::Nudge;

const STEP_S: f64 = 0.1;
const STEPS_A_SECOND: u64 = 10;
/// What the crew did, kept for the page.
const KEPT: usize = 60;
/// An estimate older than this is no estimate of now.
const ESTIMATE_LASTS: Duration = Duration::from_secs(3);
/// The sea does not run after the wall further than this.
const MOST_BEHIND: Duration = Duration::from_secs(5);
const DAY_S: f64 = 86_400.0;

/// Something that was turned, pulled or ordered on the page.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(tag = "turn", rename_all = "kebab-case")]
pub enum Control {
    /// Wind on top of the story's.
    Wind {
        /// Knots.
        added_kn: f64,
        /// Degrees, veering positive.
        turned_deg: f64,
    },
    /// What she steers.
    Course(Steered),
    /// What leans on her.
    Heel {
        /// Degrees in a calm, starboard down positive.
        leaned_deg: f64,
    },
    /// Hands that can be called.
    Hands {
        /// So many.
        hands: u8,
    },
    /// The time of day, for the sky and all clocks aboard.
    Hour {
        /// UTC.
        hour: f64,
    },
    /// A fault.
    Fault {
        /// What goes wrong.
        kind: FaultKind,
        /// Device or line; `all` strikes every one.
        target: String,
        /// How much of it.
        #[serde(default)]
        amount: Option<f64>,
        /// Raised or cleared.
        state: Switch,
    },
    /// An order to the crew.
    Order {
        /// Which.
        order: Order,
    },
    /// Whether the crew does by itself what the daemon calls.
    Crew {
        /// It does, or waits for orders.
        obeys: Switch,
    },
}

/// On or off.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Switch {
    /// Is so.
    On,
    /// Is not so.
    #[default]
    Off,
}

/// What she steers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Deserialize, Serialize)]
#[serde(tag = "by", rename_all = "kebab-case")]
pub enum Steered {
    /// The legs of the story.
    #[default]
    Story,
    /// A true heading.
    Heading {
        /// Degrees.
        heading_deg: f64,
    },
    /// An angle to the true wind, starboard positive.
    Wind {
        /// Degrees.
        angle_deg: f64,
    },
}

/// What a page sees of the sea.
#[derive(Default)]
pub struct Sight {
    /// What really happens.
    pub truth: Truth,
    /// Truth and estimate by the second.
    pub strip: Strip,
    /// How things were turned.
    pub turned: Turned,
    /// What the crew did, newest last.
    pub deeds: VecDeque<(f64, String)>,
    /// Seconds by which the sea is behind the wall.
    pub behind_s: f64,
    /// What went wrong with the bench itself.
    pub trouble: Option<String>,
    /// How the daemon ended, if it did so unasked.
    pub fallen: Option<String>,
    estimate: Option<(Instant, Estimate)>,
}

/// How things were turned on the page.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Turned {
    /// Knots on top of the story's wind.
    pub added_kn: f64,
    /// Degrees on top of its direction.
    pub turned_deg: f64,
    /// What she steers.
    pub course: Steered,
    /// What leans on her.
    pub leaned_deg: f64,
    /// Hands aboard.
    pub hands: u8,
    /// Whether the crew does what is called.
    pub obeys: Switch,
    /// Faults raised by hand: kind, target, amount.
    pub faults: Vec<(FaultKind, String, Option<f64>)>,
}

impl Sight {
    /// Takes in what the daemon says now.
    pub fn estimate(&mut self, estimate: Estimate) {
        self.estimate = Some((Instant::now(), estimate));
    }

    fn says(&self) -> Estimate {
        self.estimate
            .filter(|(at, _)| at.elapsed() < ESTIMATE_LASTS)
            .map_or(Estimate::default(), |(_, estimate)| estimate)
    }

    fn deed(&mut self, now_s: f64, words: String) {
        self.deeds.push_back((now_s, words));
        if self.deeds.len() > KEPT {
            self.deeds.pop_front();
        }
    }
}

/// A passage with what it is connected to.
pub struct Sea {
    passage: Passage,
    sinks: Sinks,
    daemon: Arc<Daemon>,
    sight: Arc<Mutex<Sight>>,
    turns: Receiver<Control>,
    turned: Turned,
    heard_to: usize,
    steps: u64,
    /// The daemon's disk, as the story has it.
    disk: Disk,
}

impl Sea {
    /// A sea at the beginning of its story.
    pub fn new(
        passage: Passage,
        sinks: Sinks,
        daemon: Arc<Daemon>,
        sight: Arc<Mutex<Sight>>,
        turns: Receiver<Control>,
    ) -> Self {
        let turned = Turned {
            hands: passage.scenario().crew.hands,
            ..Turned::default()
        };
        lock(&sight).turned = turned.clone();
        Self {
            passage,
            sinks,
            daemon,
            sight,
            turns,
            turned,
            heard_to: 0,
            steps: 0,
            disk: Disk::Room,
        }
    }

    /// Sails on, past the end of the story, until nobody turns anything any more.
    pub fn sail(mut self) {
        let mut began = Instant::now();
        loop {
            match self.step() {
                Ok(Going::On) => {}
                Ok(Going::Ended) => return,
                Err(error) => lock(&self.sight).trouble = Some(format!("{error:#}")),
            }
            self.steps += 1;
            let due = Duration::from_secs_f64(self.steps as f64 * STEP_S);
            let gone = began.elapsed();
            match due.checked_sub(gone) {
                Some(rest) => std::thread::sleep(rest),
                // A machine that slept is not caught up with in a rush.
                None if gone - due > MOST_BEHIND => began += gone - due,
                None => {}
            }
            lock(&self.sight).behind_s = gone.saturating_sub(due).as_secs_f64();
        }
    }

    fn step(&mut self) -> Result<Going> {
        loop {
            match self.turns.try_recv() {
                Ok(turn) => self.turn(turn),
                Err(TryRecvError::Empty) => break,
                Err(TryRecvError::Disconnected) => return Ok(Going::Ended),
            }
        }
        let links: Vec<_> = self
            .passage
            .links()
            .map(|(name, link)| (name.to_owned(), link))
            .collect();
        self.sinks
            .set_links(links.iter().map(|(name, link)| (name.as_str(), *link)))?;
        for sentence in self.passage.step(STEP_S) {
            self.sinks.write(sentence)?;
        }
        self.tell_deeds();
        if self.steps.is_multiple_of(STEPS_A_SECOND) {
            self.obey();
            self.fill_or_clear_disk();
            let truth = self.passage.truth();
            let mut sight = lock(&self.sight);
            let says = sight.says();
            sight.strip.push(&truth, says);
            sight.truth = truth;
        }
        Ok(Going::On)
    }

    /// Where the story fills the disk, or makes room again, the daemon is
    /// started anew; the sea does not wait for it.
    fn fill_or_clear_disk(&mut self) {
        let disk = self.passage.disk();
        if disk == self.disk {
            return;
        }
        self.disk = disk;
        let (daemon, sight) = (Arc::clone(&self.daemon), Arc::clone(&self.sight));
        std::thread::spawn(move || {
            let (recording, _) = daemon.setting();
            if let Err(error) = daemon.set(recording, disk) {
                lock(&sight).trouble = Some(format!("{error:#}"));
            }
        });
    }

    fn turn(&mut self, turn: Control) {
        match turn {
            Control::Wind {
                added_kn,
                turned_deg,
            } => {
                self.turned.added_kn = added_kn.clamp(-40.0, 60.0);
                self.turned.turned_deg = turned_deg.clamp(-180.0, 180.0);
                self.passage.nudge(Nudge {
                    speed_ms: ms(self.turned.added_kn),
                    turn_rad: rad(self.turned.turned_deg),
                });
            }
            Control::Course(steered) => {
                self.turned.course = steered;
                self.passage.steer(course(steered));
            }
            Control::Heel { leaned_deg } => {
                self.turned.leaned_deg = leaned_deg.clamp(-40.0, 40.0);
                self.passage.lean(self.turned.leaned_deg);
            }
            Control::Hands { hands } => self.set_hands(hands.clamp(1, 20)),
            Control::Hour { hour } => {
                let midnight = (self.passage.truth().unix_s / DAY_S).floor() * DAY_S;
                self.passage
                    .set_clock(midnight + hour.clamp(0.0, 24.0) * 3600.0);
            }
            Control::Fault {
                kind,
                target,
                amount,
                state,
            } => self.fault(kind, target, amount, state),
            Control::Order { order } => self.passage.order(order),
            Control::Crew { obeys } => self.turned.obeys = obeys,
        }
        lock(&self.sight).turned = self.turned.clone();
    }

    fn set_hands(&mut self, hands: u8) {
        self.turned.hands = hands;
        self.passage.set_hands(hands);
        // As many on watch as the boat file says: half of all.
        let on_deck = (hands / 2).max(1);
        let below = hands - on_deck;
        self.act(json!({ "act": "hands", "on_deck": on_deck, "below": below }));
    }

    fn fault(&mut self, kind: FaultKind, target: String, amount: Option<f64>, state: Switch) {
        self.passage.clear(kind, &target);
        self.turned
            .faults
            .retain(|(known, on, _)| *known != kind || *on != target);
        if state == Switch::On {
            self.passage.raise(kind, &target, amount);
            self.turned.faults.push((kind, target, amount));
        }
    }

    /// What the crew did goes to the daemon as the key presses of a crew.
    fn tell_deeds(&mut self) {
        for (at_s, event) in self.passage.crew_events() {
            lock(&self.sight).deed(at_s, deed_in_words(event, self.passage.ladder()));
            match event {
                CrewEvent::SetUp(rung) => {
                    let ladder = self.passage.ladder();
                    if let Some(item) = setup_name(ladder, rung) {
                        self.act(json!({ "act": "setup", "item": item, "ready": true }));
                    }
                }
                CrewEvent::Begun(_) => self.act(json!({ "act": "started" })),
                CrewEvent::Changed(rung) => {
                    if let Some(rung) = self.passage.ladder().get(rung) {
                        self.act(json!({ "act": "plan", "plan": rung.short }));
                    }
                }
                CrewEvent::Heard(_) if self.turned.obeys == Switch::On => {
                    self.act(json!({ "act": "acknowledge" }));
                }
                CrewEvent::Heard(_) | CrewEvent::Missed(_) | CrewEvent::OnDeck => {}
            }
        }
    }

    /// Tells the daemon, on a thread: the sea does not wait for an answer.
    fn act(&self, act: Value) {
        let (daemon, sight) = (Arc::clone(&self.daemon), Arc::clone(&self.sight));
        let now_s = self.passage.now_s();
        std::thread::spawn(move || {
            let refused = match daemon.post("/act", act.clone()) {
                Ok(answer) if answer.status < 300 => return,
                Ok(answer) => String::from_utf8_lossy(&answer.body).into_owned(),
                Err(error) => format!("{error:#}"),
            };
            lock(&sight).deed(now_s, format!("{act} was not taken: {refused}"));
        });
    }

    /// A crew that obeys takes each new call as an order.
    fn obey(&mut self) {
        let (events, next) = self.daemon.events_since(self.heard_to);
        self.heard_to = next;
        if self.turned.obeys == Switch::Off {
            return;
        }
        for order in events.iter().filter_map(order) {
            self.passage.order(order);
        }
    }
}

enum Going {
    On,
    Ended,
}

fn course(steered: Steered) -> Option<Course> {
    match steered {
        Steered::Story => None,
        Steered::Heading { heading_deg } => Some(Course::Heading(rad(heading_deg))),
        Steered::Wind { angle_deg } => Some(Course::WindAngle(rad(angle_deg))),
    }
}

/// What the crew is told by an event line.
fn order(event: &Value) -> Option<Order> {
    let word = |key: &str| event.get(key).and_then(Value::as_str);
    match (word("event")?, word("call")?) {
        ("call", "prepare") => Some(Order::Prepare),
        ("call", "reduce" | "past") => Some(Order::Reduce),
        _ => None,
    }
}

fn deed_in_words(event: CrewEvent, ladder: &[crate::boat::SailRung]) -> String {
    let name = |rung: usize| ladder.get(rung).map_or("bare poles", |rung| &rung.name);
    match event {
        CrewEvent::Heard(order) => format!("heard: {}", order_in_words(order)),
        CrewEvent::Missed(order) => format!("did not hear: {}", order_in_words(order)),
        CrewEvent::OnDeck => "hands on deck".to_owned(),
        CrewEvent::SetUp(rung) => format!("set up for {}", name(rung)),
        CrewEvent::Begun(rung) => format!("began the change to {}", name(rung)),
        CrewEvent::Changed(rung) => format!("{} is set", name(rung)),
    }
}

fn order_in_words(order: Order) -> &'static str {
    match order {
        Order::Prepare => "prepare",
        Order::Reduce => "reduce",
        Order::ShakeOut => "shake out",
        Order::StandDown => "stand down",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn turn(json: &str) -> Control {
        serde_json::from_str(json).expect("a turn")
    }

    #[test]
    fn what_a_page_sends_is_understood() {
        assert_eq!(
            turn(r#"{"turn":"wind","added_kn":5,"turned_deg":-20}"#),
            Control::Wind {
                added_kn: 5.0,
                turned_deg: -20.0
            }
        );
        assert_eq!(
            turn(r#"{"turn":"course","by":"wind","angle_deg":-60}"#),
            Control::Course(Steered::Wind { angle_deg: -60.0 })
        );
        assert_eq!(
            turn(r#"{"turn":"course","by":"story"}"#),
            Control::Course(Steered::Story)
        );
        assert_eq!(
            turn(r#"{"turn":"fault","kind":"stuck-vane","target":"masthead","state":"on"}"#),
            Control::Fault {
                kind: FaultKind::StuckVane,
                target: "masthead".to_owned(),
                amount: None,
                state: Switch::On,
            }
        );
        assert!(serde_json::from_str::<Control>(r#"{"turn":"tide"}"#).is_err());
    }

    #[test]
    fn a_call_is_an_order_and_other_events_are_none() {
        let event = |kind: &str, call: &str| serde_json::json!({"event": kind, "call": call});
        assert_eq!(order(&event("call", "prepare")), Some(Order::Prepare));
        assert_eq!(order(&event("call", "past")), Some(Order::Reduce));
        assert_eq!(order(&event("call", "blind")), None);
        assert_eq!(order(&event("summary", "reduce")), None);
        assert_eq!(order(&serde_json::json!({})), None);
    }

    #[test]
    fn an_estimate_of_long_ago_is_none() {
        let mut sight = Sight::default();
        assert_eq!(sight.says(), Estimate::default());
        let estimate = Estimate {
            tws_kn: Some(12.0),
            ..Estimate::default()
        };
        sight.estimate(estimate);
        assert_eq!(sight.says(), estimate);
        let old = Instant::now().checked_sub(ESTIMATE_LASTS);
        sight.estimate = old.map(|old| (old, estimate));
        assert_eq!(sight.says(), Estimate::default());
    }
}

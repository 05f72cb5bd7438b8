//! Every fault of the scenarios, heard by the real wire and core: each is
//! shown, survived or refused, and no number is ever wrong with confidence.
//!
//! What the picture says of the wind is held against the truth, second by
//! second. A number may be away; it may be wrong for as long as it takes to
//! find out; wrong for longer it may be only with a word beside it.

use std::collections::VecDeque;

use cringle_core::event::{Call, EventKind};
use cringle_core::fault::Fault;
use cringle_core::reading::Quantity;
use cringle_sim::closed_loop::{Adviser, Cringle};
use cringle_sim::passage::Passage;
use cringle_sim::scenario::Scenario;

/// The one-minute mean of the wind may be off by so much before it is called
/// wrong: some three standard deviations of what a good unit gives here.
const WRONG_BY_KN: f64 = 2.5;

/// One second of a passage, as it was and as it was shown.
struct Second {
    minute: f64,
    true_mean_kn: f64,
    shown_mean_kn: Option<f64>,
    true_heel_deg: f64,
    shown_heel_deg: Option<f64>,
    call: Call,
    faults: Vec<Fault>,
}

impl Second {
    /// Whether the wind on the screen comes with a word that it is in doubt.
    fn is_doubted(&self) -> bool {
        self.call == Call::Blind || self.faults.iter().any(|fault| is_of_the_wind(*fault))
    }

    fn is_wrong(&self) -> bool {
        self.shown_mean_kn
            .is_some_and(|shown| (shown - self.true_mean_kn).abs() > WRONG_BY_KN)
    }
}

fn is_of_the_wind(fault: Fault) -> bool {
    match fault {
        Fault::Lost(quantity)
        | Fault::Invalid(quantity)
        | Fault::Disagree(quantity)
        | Fault::Spikes(quantity) => quantity == Quantity::ApparentWind,
        Fault::VaneStuck | Fault::CupsSlow | Fault::TrueWindOnly => true,
        Fault::NoWaterSpeed | Fault::NoHeading | Fault::NoVariation | Fault::SlowHeel => false,
    }
}

/// A scenario with the real watch at its end, and nobody who obeys it.
struct Sailed {
    seconds: Vec<Second>,
    calls: Vec<(f64, Call)>,
}

fn sail(name: &str, minutes: f64) -> Sailed {
    let scenario = Scenario::builtin(name).expect("built in");
    sail_scenario(scenario, minutes)
}

fn sail_scenario(scenario: Scenario, minutes: f64) -> Sailed {
    let mut cringle = Cringle::new(&scenario).expect("a boat file");
    let mut passage = Passage::new(scenario, 1);
    let mut lately: VecDeque<(f64, f64)> = VecDeque::new();
    let mut sailed = Sailed {
        seconds: Vec::new(),
        calls: Vec::new(),
    };
    while passage.now_s() < minutes * 60.0 {
        for sentence in passage.step(1.0) {
            cringle.hear(sentence);
        }
        let truth = passage.truth();
        cringle.advise(truth.now_s);
        lately.push_back((truth.tws_kn, truth.heel_deg));
        if lately.len() > 60 {
            lately.pop_front();
        }
        let count = lately.len() as f64;
        let view = cringle.watch().view();
        sailed.seconds.push(Second {
            minute: truth.now_s / 60.0,
            true_mean_kn: lately.iter().map(|(wind, _)| wind).sum::<f64>() / count,
            shown_mean_kn: view.wind.mean_1min_kn,
            true_heel_deg: lately.iter().map(|(_, heel)| heel).sum::<f64>() / count,
            shown_heel_deg: view.heel.mean_deg,
            call: view.call.call,
            faults: view.faults.to_vec(),
        });
    }
    let calls = cringle.take_events().into_iter();
    sailed.calls = calls
        .filter(|event| event.kind == EventKind::Call)
        .map(|event| (event.at.as_secs_f64() / 60.0, event.call))
        .collect();
    sailed
}

impl Sailed {
    fn describe(&self) {
        let mut before: Vec<Fault> = Vec::new();
        for second in &self.seconds {
            if second.faults != before {
                println!("  {:6.2} {:?}", second.minute, second.faults);
                before.clone_from(&second.faults);
            }
        }
        println!("  calls {:.2?}", self.calls);
        let wrong: Vec<_> = self.seconds.iter().filter(|s| s.is_wrong()).map(|s| (s.minute, s.is_doubted())).collect();
        println!("  wrong {} not doubted {} first {:?} last {:?}", wrong.len(), wrong.iter().filter(|w| !w.1).count(), wrong.first(), wrong.last());
        let err = |s: &&Second| s.shown_mean_kn.is_some();
        let worst = self.seconds.iter().filter(err).filter(|s| s.minute > 2.0).map(|s| (s.shown_mean_kn.unwrap() - s.true_mean_kn).abs()).fold(0.0, f64::max);
        let heel = self.seconds.iter().filter(|s| s.minute > 2.0).filter_map(|s| s.shown_heel_deg.map(|h| (h - s.true_heel_deg).abs())).fold(0.0, f64::max);
        println!("  worst {worst:.2} kn heel {heel:.2} deg; none for {} s", self.seconds.iter().filter(|s| s.shown_mean_kn.is_none()).count());
    }
}

#[test]
fn explore() {
    for (name, minutes) in [("steady-trade", 60.0), ("lost-wind", 110.0), ("stuck-vane", 110.0), ("frozen-cup", 110.0), ("noisy-wire", 110.0), ("pulled-plug", 110.0), ("two-talkers", 100.0), ("clock-step", 100.0), ("rising-breeze", 45.0)] {
        let began = std::time::Instant::now();
        println!("{name}");
        sail(name, minutes).describe();
        println!("  took {:?}", began.elapsed());
    }
}

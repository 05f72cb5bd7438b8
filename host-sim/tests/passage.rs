//! Whole passages: what repeats, what closes, and what each fault leaves on the wire.

use cringle_sim::crew::{CrewEvent, Order};
use cringle_sim::faults::{Disk, FaultKind, Link};
use cringle_sim::instruments::Sentence;
use cringle_sim::passage::Passage;
use cringle_sim::scenario::Scenario;

fn sail(name: &str, seed: u64) -> Passage {
    Passage::new(Scenario::builtin(name).expect("built in"), seed)
}

/// Everything heard up to `minutes`, in steps of `dt_s`.
fn hear(passage: &mut Passage, minutes: f64, dt_s: f64) -> Vec<Sentence> {
    let mut heard = Vec::new();
    while passage.now_s() < minutes * 60.0 - 1e-6 {
        heard.extend_from_slice(passage.step(dt_s));
    }
    heard
}

fn text(sentence: &Sentence) -> String {
    String::from_utf8_lossy(&sentence.bytes).into_owned()
}

/// Fields of every sentence with this address that was due in these minutes.
fn fields(heard: &[Sentence], address: &str, from_min: f64, to_min: f64) -> Vec<Vec<String>> {
    heard
        .iter()
        .filter(|sentence| (from_min * 60.0..to_min * 60.0).contains(&sentence.due_s))
        .map(text)
        .filter(|line| line.starts_with(&format!("${address},")))
        .map(|line| {
            let body = line.split('*').next().unwrap_or_default();
            body.split(',').map(str::to_owned).collect()
        })
        .collect()
}

fn sum_is_right(line: &str) -> bool {
    let Some((body, sum)) = line
        .trim_end()
        .strip_prefix('$')
        .and_then(|l| l.split_once('*'))
    else {
        return false;
    };
    let ours = body.bytes().fold(0u8, |sum, byte| sum ^ byte);
    u8::from_str_radix(sum, 16) == Ok(ours)
}

fn number(field: &str) -> f64 {
    field.parse().unwrap_or(f64::NAN)
}

#[test]
fn the_same_seed_gives_the_same_bytes_however_it_is_stepped() {
    let fine = hear(&mut sail("noisy-wire", 5), 15.0, 0.1);
    let coarse = hear(&mut sail("noisy-wire", 5), 15.0, 7.5);
    assert_eq!(fine.len(), coarse.len());
    assert!(fine == coarse);
    assert!(fine != hear(&mut sail("noisy-wire", 6), 15.0, 0.1));
}

#[test]
fn the_bytes_are_those_of_every_machine_and_every_run() {
    // FNV-1a over all bytes and times: changes when anything at all changes in
    // the made-up world. Written on amd64; arm64 has to agree.
    let heard = hear(&mut sail("two-talkers", 3), 5.0, 1.0);
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    let mut add = |byte: u8| hash = (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
    for sentence in &heard {
        sentence.bytes.iter().copied().for_each(&mut add);
        sentence
            .due_s
            .to_bits()
            .to_le_bytes()
            .into_iter()
            .for_each(&mut add);
    }
    assert_eq!(
        hash,
        13_575_135_993_054_399_625,
        "{} sentences",
        heard.len()
    );
}

#[test]
fn without_faults_every_line_is_well_formed_in_order_and_short_enough() {
    let mut passage = sail("rising-breeze", 1);
    let heard = hear(&mut passage, 10.0, 1.0);
    assert!(heard.iter().all(|sentence| sum_is_right(&text(sentence))));
    assert!(heard.iter().all(|sentence| sentence.bytes.len() <= 82));
    assert!(heard.is_sorted_by(|a, b| a.due_s <= b.due_s));
    assert_eq!(passage.overruns(), 0);
    // Two a second of apparent wind, ten of heading.
    assert!((1195..=1200).contains(&fields(&heard, "WIMWV", 0.0, 10.0).len()));
    assert!((5990..=6000).contains(&fields(&heard, "HCHDG", 0.0, 10.0).len()));
}

/// One masthead unit, log, compass and receiver without any fault of their own.
const PERFECT: &str = r#"
[[line]]
name = "bus"
baud = 460800

[[device]]
name = "masthead"
kind = "ultrasonic"
line = "bus"
talker = "WI"
hz = 10
says = ["mwv-r"]
noise = 0
decimals = 6

[[device]]
name = "log"
kind = "log"
line = "bus"
talker = "VW"
hz = 10
says = ["vhw"]
noise = 0
decimals = 6

[[device]]
name = "compass"
kind = "gyro"
line = "bus"
talker = "HE"
hz = 10
says = ["hdt"]
noise = 0
decimals = 6
"#;

#[test]
fn the_triangle_closes_without_noise() {
    // The inverse written out from the textbook form, with the true heel,
    // motion and leeway: apparent wind less the water's, per sample.
    let mut scenario_text = include_str!("../scenarios/building-gale.toml").to_owned();
    scenario_text.push_str(PERFECT);
    scenario_text.push_str("\n[current]\ntowards_deg = 90\ndrift_kn = 1.5\n");
    let scenario = Scenario::parse(&scenario_text).expect("a scenario");
    let masthead_m = scenario.boat.masthead_m;
    let mut passage = Passage::new(scenario, 1);
    let (mut checked, mut worst_kn, mut worst_deg) = (0, 0.0_f64, 0.0_f64);
    let mut earlier = passage.truth();
    for _ in 0..3000 {
        let heard = passage.step(0.1).to_vec();
        // Sentences of one beat leave within a tenth of a second after it.
        let truth = core::mem::replace(&mut earlier, passage.truth());
        let one = |address: &str| {
            let fields = fields(&heard, address, 0.0, 1e9);
            fields.first().cloned()
        };
        let (Some(mwv), Some(vhw), Some(hdt)) = (one("WIMWV"), one("VWVHW"), one("HEHDT")) else {
            continue;
        };
        let angle = number(&mwv[1]).to_radians();
        let (m_ahead, m_side) = (number(&mwv[3]) * angle.cos(), number(&mwv[3]) * angle.sin());
        let (heel, pitch) = (truth.heel_deg.to_radians(), truth.pitch_deg.to_radians());
        let ahead = m_ahead / pitch.cos();
        let side = (m_side - m_ahead * pitch.tan() * heel.sin()) / heel.cos();
        let knots = 3600.0 / 1852.0;
        let ahead = ahead + truth.pitch_deg_s.to_radians() * masthead_m * knots;
        let side = side - truth.roll_deg_s.to_radians() * masthead_m * knots;
        let stw = number(&vhw[5]);
        let (t_ahead, t_side) = (
            ahead - stw,
            side - stw * truth.leeway_deg.to_radians().tan(),
        );
        let tws = t_ahead.hypot(t_side);
        let twd = number(&hdt[1]) + t_side.atan2(t_ahead).to_degrees();
        let off = (twd - truth.twd_deg + 540.0).rem_euclid(360.0) - 180.0;
        worst_kn = worst_kn.max((tws - truth.tws_kn).abs());
        worst_deg = worst_deg.max(off.abs());
        checked += 1;
    }
    assert!(checked > 2900, "{checked}");
    assert!(worst_kn < 1e-4, "{worst_kn} kn");
    assert!(worst_deg < 1e-3, "{worst_deg} degrees");
}

#[test]
fn ground_wind_is_water_wind_and_current_together() {
    let mut text = include_str!("../scenarios/rising-breeze.toml").to_owned();
    text.push_str("\n[current]\ntowards_deg = 90\ndrift_kn = 1.5\n");
    let mut passage = Passage::new(Scenario::parse(&text).expect("a scenario"), 1);
    passage.step(60.0);
    let truth = passage.truth();
    let from = |kn: f64, deg: f64| (-kn * deg.to_radians().cos(), -kn * deg.to_radians().sin());
    let water = from(truth.tws_kn, truth.twd_deg);
    let ground = from(truth.ground_wind_kn, truth.ground_from_deg);
    assert!((ground.0 - water.0).abs() < 1e-9);
    assert!((ground.1 - water.1 - 1.5).abs() < 1e-9);
}

#[test]
fn a_lost_wind_unit_is_silent_and_the_computer_says_it_has_nothing() {
    let heard = hear(&mut sail("lost-wind", 1), 102.0, 1.0);
    assert!(fields(&heard, "WIMWV", 40.1, 100.0).is_empty());
    assert!(!fields(&heard, "WIMWV", 39.0, 39.9).is_empty());
    assert!(!fields(&heard, "WIMWV", 100.1, 102.0).is_empty());
    let said = fields(&heard, "IIMWV", 41.0, 100.0);
    assert!(
        !said.is_empty()
            && said
                .iter()
                .all(|fields| fields[5] == "V" && fields[3].is_empty())
    );
}

#[test]
fn a_stuck_vane_says_one_angle_and_a_frozen_cup_no_speed() {
    let heard = hear(&mut sail("stuck-vane", 1), 80.0, 1.0);
    let stuck = fields(&heard, "WIMWV", 40.1, 80.0);
    assert!(stuck.iter().all(|fields| fields[1] == stuck[0][1]));
    let free = fields(&heard, "WIMWV", 30.0, 39.9);
    assert!(free.iter().any(|fields| fields[1] != free[0][1]));

    let heard = hear(&mut sail("frozen-cup", 1), 50.0, 1.0);
    let frozen = fields(&heard, "WIMWV", 40.1, 50.0);
    assert!(
        frozen
            .iter()
            .all(|fields| fields[3] == "0.0" && fields[5] == "A")
    );
}

#[test]
fn a_noisy_wire_carries_each_kind_of_noise_in_its_time() {
    let heard = hear(&mut sail("noisy-wire", 1), 102.0, 1.0);
    let broken = |line: usize, from: f64, to: f64| {
        let all: Vec<_> = heard
            .iter()
            .filter(|s| s.line == line && (from * 60.0..to * 60.0).contains(&s.due_s))
            .collect();
        let bad = all.iter().filter(|s| !sum_is_right(&text(s))).count();
        bad as f64 / all.len() as f64
    };
    let (mast, nav) = (0, 1);
    assert_eq!(broken(mast, 0.0, 9.9), 0.0);
    assert!(broken(mast, 10.1, 29.9) > 0.3, "garbage between good lines");
    assert!(broken(mast, 30.1, 49.9) > 0.3, "dropped bytes");
    assert!(broken(nav, 30.1, 49.9) > 0.3, "doubled bytes");
    assert!((0.4..0.6).contains(&broken(mast, 50.1, 69.9)), "bad sums");
    assert_eq!(broken(mast, 70.1, 79.9), 1.0, "wrong baud");
    let wild = fields(&heard, "WIMWV", 80.1, 99.9);
    let spikes = wild
        .iter()
        .filter(|fields| number(&fields[3]) > 44.9)
        .count();
    // Ten a minute for twenty minutes.
    assert!((150..250).contains(&spikes), "{spikes}");
    assert_eq!(broken(mast, 100.1, 102.0), 0.0);
}

#[test]
fn a_pulled_plug_is_told_to_the_sinks_and_nothing_leaves() {
    let mut passage = sail("pulled-plug", 1);
    let link = |passage: &Passage, name: &str| {
        let found = passage.links().find(|(line, _)| *line == name);
        found.map(|(_, link)| link)
    };
    hear(&mut passage, 19.0, 10.0);
    assert_eq!(link(&passage, "mast"), Some(Link::Up));
    let heard = hear(&mut passage, 22.0, 10.0);
    assert_eq!(link(&passage, "mast"), Some(Link::Unplugged));
    assert!(fields(&heard, "WIMWV", 20.1, 22.0).is_empty());
    assert!(!fields(&heard, "VWVHW", 20.1, 22.0).is_empty());
    hear(&mut passage, 26.0, 10.0);
    assert_eq!(link(&passage, "mast"), Some(Link::Up));
    let heard = hear(&mut passage, 60.0, 10.0);
    assert_eq!(link(&passage, "motion"), Some(Link::HalfOpen));
    assert!(fields(&heard, "HCHDG", 51.0, 60.0).is_empty());
    hear(&mut passage, 80.0, 10.0);
    assert_eq!(passage.disk(), Disk::Full);
    let heard = hear(&mut passage, 99.0, 10.0);
    assert!(
        heard.iter().all(|s| s.due_s < 90.1 * 60.0),
        "all talkers stop"
    );
}

#[test]
fn two_talkers_agree_until_one_goes_wrong() {
    let heard = hear(&mut sail("two-talkers", 1), 70.0, 1.0);
    let mean = |address: &str, from: f64, to: f64| {
        let values = fields(&heard, address, from, to);
        let sum: f64 = values.iter().map(|fields| number(&fields[3])).sum();
        sum / values.len() as f64
    };
    let ratio = |from, to| mean("YXMWV", from, to) / mean("WIMWV", from, to);
    assert!((0.9..1.05).contains(&ratio(10.0, 39.0)));
    assert!((1.35..1.6).contains(&ratio(41.0, 69.0)));
}

#[test]
fn a_clock_step_moves_the_time_and_nothing_else() {
    let heard = hear(&mut sail("clock-step", 1), 62.0, 1.0);
    let hour = |from, to| fields(&heard, "GPZDA", from, to)[0][1][..2].to_owned();
    assert_eq!(
        (hour(29.0, 30.0), hour(31.0, 32.0)),
        ("13".to_owned(), "14".to_owned())
    );
    let day = |from, to| fields(&heard, "GPZDA", from, to)[0][2].clone();
    assert_eq!(
        (day(29.0, 30.0), day(61.0, 62.0)),
        ("15".to_owned(), "14".to_owned())
    );
}

#[test]
fn a_fault_can_be_raised_and_cleared_by_hand() {
    let mut passage = sail("steady-trade", 1);
    hear(&mut passage, 1.0, 1.0);
    passage.raise(FaultKind::Void, "masthead", None);
    let heard = hear(&mut passage, 2.0, 1.0);
    assert!(
        fields(&heard, "WIMWV", 1.1, 2.0)
            .iter()
            .all(|fields| fields[5] == "V")
    );
    passage.clear(FaultKind::Void, "masthead");
    let heard = hear(&mut passage, 3.0, 1.0);
    assert!(
        fields(&heard, "WIMWV", 2.1, 3.0)
            .iter()
            .all(|fields| fields[5] == "A")
    );
}

#[test]
fn an_order_is_carried_out_and_the_boat_heels_less() {
    let run = |order: Option<Order>| {
        let mut passage = sail("rising-breeze", 2);
        hear(&mut passage, 14.0, 10.0);
        if let Some(order) = order {
            passage.order(order);
        }
        let mut heel = 0.0;
        hear(&mut passage, 32.0, 10.0);
        while passage.now_s() < 40.0 * 60.0 {
            passage.step(1.0);
            heel += passage.truth().heel_deg.abs() / 480.0;
        }
        (heel, passage)
    };
    let (pressed, _) = run(None);
    let (reduced, mut passage) = run(Some(Order::Reduce));
    assert!(reduced < pressed - 2.0, "{reduced} {pressed}");
    assert_eq!(passage.truth().rung, 1);
    let events: Vec<_> = passage
        .crew_events()
        .into_iter()
        .map(|(_, event)| event)
        .collect();
    assert!(events.contains(&CrewEvent::SetUp(1)) && events.contains(&CrewEvent::Changed(1)));
}

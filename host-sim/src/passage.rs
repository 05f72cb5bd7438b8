//! A passage: everything together, ten times a second.
//!
//! [`Passage::step`] moves the made-up world on and hands over the sentences
//! that left the lines meanwhile, each with the time of its last byte. Orders
//! go to the crew through [`Passage::order`]; what really happens is in
//! [`Passage::truth`]. The world always moves in steps of a tenth of a second,
//! so the same seed gives the same bytes however it is stepped.

use crate::boat::{Boat, Course, Motion, SailRung, Surroundings};
use crate::crew::{Crew, CrewEvent, Light, Order};
use crate::faults::{Disk, Fault, FaultKind, Faults, Link};
use crate::instruments::{BowWind, SAMPLES_PER_S, Sentence, Suite, World};
use crate::maths::{Flow, M_PER_MINUTE, compass_deg, deg, kn, lag, ms, rad, wrap};
use crate::scenario::Scenario;
use crate::weather::{Nudge, Sea, SeaState, Weather, encounter, is_dark};

/// Milliseconds in one tick.
const TICK_MS: u64 = 100;
const TICK_S: f64 = 1.0 / SAMPLES_PER_S;
/// Waves turn with the wind over so long.
const WAVES_TURN_S: f64 = 2.0 * 3600.0;
/// Dark or light is looked at once a minute.
const LOOKS_AT_SKY_TICKS: u64 = 600;

/// A passage under way.
#[derive(Clone, Debug)]
pub struct Passage {
    scenario: Scenario,
    start_unix_s: f64,
    weather: Weather,
    sea: Sea,
    sea_dice: crate::dice::Dice,
    boat: Boat,
    crew: Crew,
    suite: Suite,
    faults: Faults,
    course: Option<Course>,
    tick: u64,
    owed_ms: u64,
    waves_from_rad: f64,
    current: Flow,
    position: (f64, f64),
    light: Light,
    orders_given: usize,
    truth: Truth,
    heard: Vec<Sentence>,
    log: Vec<(f64, CrewEvent)>,
}

/// What really happens, in the units of the deck.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Truth {
    /// Seconds from the start.
    pub now_s: f64,
    /// Unix seconds.
    pub unix_s: f64,
    /// True wind over water at the masthead, gusts and all, knots.
    pub tws_kn: f64,
    /// Its angle to the bow, starboard positive.
    pub twa_deg: f64,
    /// Direction it comes from, true.
    pub twd_deg: f64,
    /// The mean wind over water under the gusts, knots.
    pub mean_tws_kn: f64,
    /// Wind over ground at the masthead, gusts and all, knots.
    pub ground_wind_kn: f64,
    /// Direction it comes from, true.
    pub ground_from_deg: f64,
    /// Apparent wind of an upright, steady boat at the masthead, knots.
    pub aws_kn: f64,
    /// Its angle to the bow, starboard positive.
    pub awa_deg: f64,
    /// Heel, starboard down positive.
    pub heel_deg: f64,
    /// Pitch, bow up positive.
    pub pitch_deg: f64,
    /// Roll rate, starboard down positive, degrees a second.
    pub roll_deg_s: f64,
    /// Pitch rate, bow up positive, degrees a second.
    pub pitch_deg_s: f64,
    /// True heading.
    pub heading_deg: f64,
    /// Speed through the water along the keel, knots.
    pub stw_kn: f64,
    /// Leeway, drift to starboard positive.
    pub leeway_deg: f64,
    /// Speed over ground, knots.
    pub sog_kn: f64,
    /// Course over ground, true.
    pub cog_deg: f64,
    /// North positive.
    pub latitude_deg: f64,
    /// East positive.
    pub longitude_deg: f64,
    /// Pressure, hPa.
    pub pressure_hpa: f64,
    /// Significant wave height, m.
    pub wave_height_m: f64,
    /// True once civil twilight is over.
    pub is_dark: bool,
    /// Rung that is set.
    pub rung: usize,
    /// How often she has rounded up.
    pub round_ups: u32,
}

impl Passage {
    /// At the start of `scenario`, as this seed tells it.
    pub fn new(scenario: Scenario, seed: u64) -> Self {
        let weather = Weather::new(
            &scenario.weather,
            scenario.boat.masthead_m,
            scenario.vary,
            seed,
        );
        let air = weather.air();
        let current = &scenario.current;
        let current = Flow::towards(ms(current.drift_kn), rad(current.towards_deg));
        let boat = Boat::new(
            scenario.boat.clone(),
            scenario.steering,
            scenario.course(0.0),
            air.wind.seen_from(current),
            seed,
        );
        let place = &scenario.position;
        let mut passage = Self {
            start_unix_s: scenario.start_unix_s(),
            sea: weather.sea(),
            sea_dice: crate::dice::Dice::new(seed, "sea"),
            crew: Crew::new(scenario.crew.clone(), scenario.rung, seed),
            suite: Suite::new(&scenario.device, &scenario.line, seed),
            faults: Faults::new(scenario.fault.clone(), seed),
            course: None,
            tick: 0,
            owed_ms: 0,
            waves_from_rad: air.mean.from_rad,
            current,
            position: (place.latitude_deg, place.longitude_deg),
            light: Light::Day,
            orders_given: 0,
            truth: Truth::default(),
            heard: Vec::new(),
            log: Vec::new(),
            weather,
            boat,
            scenario,
        };
        passage.look_at_sky();
        passage.truth = passage.tell_truth(0.0, SeaState::default());
        passage
    }

    /// The scenario that is sailed.
    pub fn scenario(&self) -> &Scenario {
        &self.scenario
    }

    /// Moves on by `dt_s` and hands over what left the lines meanwhile. Times
    /// that are no whole tenth of a second are carried over.
    pub fn step(&mut self, dt_s: f64) -> &[Sentence] {
        self.heard.clear();
        self.owed_ms += libm::round(dt_s.max(0.0) * 1000.0) as u64;
        while self.owed_ms >= TICK_MS {
            self.owed_ms -= TICK_MS;
            self.one_tick();
        }
        &self.heard
    }

    /// What really happens now.
    pub fn truth(&self) -> Truth {
        self.truth
    }

    /// Seconds from the start.
    pub fn now_s(&self) -> f64 {
        self.tick as f64 * TICK_S
    }

    /// True once the story is told; it can be sailed on all the same.
    pub fn is_over(&self) -> bool {
        self.now_s() >= self.scenario.minutes * 60.0
    }

    /// Gives the crew an order.
    pub fn order(&mut self, order: Order) {
        self.crew.order(order, &self.scenario.boat.rung);
    }

    /// Steers this from now on instead of the scenario's legs; `None` goes back to them.
    pub fn steer(&mut self, course: Option<Course>) {
        self.course = course;
    }

    /// Adds this to the weather of the story from now on.
    pub fn nudge(&mut self, nudge: Nudge) {
        self.weather.nudge(nudge);
    }

    /// Leans on her with what would heel her so far in a calm; starboard down
    /// positive.
    pub fn lean(&mut self, heel_deg: f64) {
        self.boat.lean(rad(heel_deg));
    }

    /// So many hands can be called from now on.
    pub fn set_hands(&mut self, hands: u8) {
        self.crew.set_hands(hands);
    }

    /// Makes it this time of day, for the sky and for every clock aboard.
    pub fn set_clock(&mut self, unix_s: f64) {
        self.start_unix_s = unix_s - self.now_s();
        self.look_at_sky();
        self.truth.unix_s = unix_s;
        self.truth.is_dark = self.light == Light::Dark;
    }

    /// What the crew did since last asked, with the times.
    pub fn crew_events(&mut self) -> Vec<(f64, CrewEvent)> {
        core::mem::take(&mut self.log)
    }

    /// True while a change is being made.
    pub fn is_changing(&self) -> bool {
        self.crew.is_changing()
    }

    /// The ladder of sail plans.
    pub fn ladder(&self) -> &[SailRung] {
        &self.scenario.boat.rung
    }

    /// The plan that is set.
    pub fn rung(&self) -> &SailRung {
        &self.scenario.boat.rung[self.crew.rung()]
    }

    /// Names of the lines and how they are connected.
    pub fn links(&self) -> impl Iterator<Item = (&str, Link)> {
        self.suite.links()
    }

    /// Room on the listener's disk, as the scenario wants it.
    pub fn disk(&self) -> Disk {
        self.faults.disk(self.now_s())
    }

    /// Raises a fault from now on.
    pub fn raise(&mut self, kind: FaultKind, target: &str, amount: Option<f64>) {
        self.faults.raise(Fault {
            kind,
            target: target.to_owned(),
            from_min: self.now_s() / 60.0,
            to_min: f64::INFINITY,
            amount,
        });
    }

    /// Takes back every fault of this kind on this target.
    pub fn clear(&mut self, kind: FaultKind, target: &str) {
        self.faults.clear(kind, target);
    }

    /// Sentences thrown away because lines were too slow.
    pub fn overruns(&self) -> u64 {
        self.suite.overruns()
    }

    fn one_tick(&mut self) {
        self.tick += 1;
        let now_s = self.now_s();
        if self.tick.is_multiple_of(LOOKS_AT_SKY_TICKS) {
            self.look_at_sky();
        }
        self.give_timed_orders(now_s);
        let sea = self.move_world(now_s);
        self.work_on_deck(now_s);
        self.truth = self.tell_truth(now_s, sea);
        let world = self.world(now_s);
        self.suite
            .tick(self.tick, &world, &mut self.faults, &mut self.heard);
    }

    fn give_timed_orders(&mut self, now_s: f64) {
        while let Some(timed) = self.scenario.order.get(self.orders_given)
            && timed.at_min * 60.0 <= now_s
        {
            let order = timed.order;
            self.orders_given += 1;
            self.order(order);
        }
    }

    fn move_world(&mut self, now_s: f64) -> SeaState {
        let air = self.weather.step(TICK_S);
        let turn = wrap(air.mean.from_rad - self.waves_from_rad);
        self.waves_from_rad = wrap(self.waves_from_rad + turn * lag(TICK_S, WAVES_TURN_S));
        let motion = self.boat.motion();
        let against = libm::cos(wrap(self.waves_from_rad - motion.heading_rad)) * motion.stw_ms;
        let period_s = crate::weather::peak_period_s(self.sea.height_m());
        let met = encounter(period_s, against);
        let sea = self
            .sea
            .step(TICK_S, air.mean.speed_ms, met, &mut self.sea_dice);
        let around = Surroundings {
            wind: air.wind,
            current: self.current,
            sea,
            waves_from_rad: self.waves_from_rad,
        };
        let course = self.course.unwrap_or_else(|| self.scenario.course(now_s));
        let rung = &self.scenario.boat.rung[self.crew.rung()];
        self.boat.step(TICK_S, &around, rung, course);
        self.make_way();
        sea
    }

    fn make_way(&mut self) {
        let gone = self.boat.motion().over_ground;
        let (latitude, longitude) = &mut self.position;
        *latitude += gone.north_ms * TICK_S / M_PER_MINUTE / 60.0;
        let shrink = libm::cos(rad(*latitude)).max(0.01);
        *longitude += gone.east_ms * TICK_S / M_PER_MINUTE / 60.0 / shrink;
    }

    fn work_on_deck(&mut self, now_s: f64) {
        let ladder = &self.scenario.boat.rung;
        self.crew
            .step(TICK_S, self.light, self.sea.height_m(), ladder);
        let log = &mut self.log;
        log.extend(self.crew.drain_events().map(|event| (now_s, event)));
    }

    fn look_at_sky(&mut self) {
        let unix_s = self.start_unix_s + self.now_s();
        self.light = if is_dark(unix_s, self.position.0, self.position.1) {
            Light::Dark
        } else {
            Light::Day
        };
    }

    fn world(&self, now_s: f64) -> World {
        let motion = self.boat.motion();
        let air = self.weather.air();
        World {
            now_s,
            unix_s: self.start_unix_s + now_s,
            felt: BowWind::felt(air.wind, motion.over_ground, motion.heading_rad),
            motion,
            masthead_m: self.scenario.boat.masthead_m,
            latitude_deg: self.position.0,
            longitude_deg: self.position.1,
            variation_deg: self.scenario.position.variation_deg,
            pressure_hpa: air.mean.pressure_hpa,
        }
    }

    fn tell_truth(&self, now_s: f64, sea: SeaState) -> Truth {
        let motion: Motion = self.boat.motion();
        let air = self.weather.air();
        let over_water = air.wind.seen_from(self.current);
        let mean = Flow::from_direction(air.mean.speed_ms, air.mean.from_rad);
        let felt = BowWind::felt(air.wind, motion.over_ground, motion.heading_rad);
        Truth {
            now_s,
            unix_s: self.start_unix_s + now_s,
            tws_kn: kn(over_water.speed_ms()),
            twa_deg: deg(wrap(over_water.from_rad() - motion.heading_rad)),
            twd_deg: compass_deg(over_water.from_rad()),
            mean_tws_kn: kn(mean.seen_from(self.current).speed_ms()),
            ground_wind_kn: kn(air.wind.speed_ms()),
            ground_from_deg: compass_deg(air.wind.from_rad()),
            aws_kn: kn(felt.speed_ms),
            awa_deg: deg(felt.angle_rad),
            heel_deg: deg(motion.heel_rad),
            pitch_deg: deg(motion.pitch_rad),
            roll_deg_s: deg(motion.roll_rad_s),
            pitch_deg_s: deg(motion.pitch_rad_s),
            heading_deg: compass_deg(motion.heading_rad),
            stw_kn: kn(motion.stw_ms),
            leeway_deg: deg(motion.leeway_rad),
            sog_kn: kn(motion.over_ground.speed_ms()),
            cog_deg: compass_deg(motion.over_ground.towards_rad()),
            latitude_deg: self.position.0,
            longitude_deg: self.position.1,
            pressure_hpa: air.mean.pressure_hpa,
            wave_height_m: sea.height_m,
            is_dark: self.light == Light::Dark,
            rung: self.crew.rung(),
            round_ups: self.boat.round_ups(),
        }
    }
}

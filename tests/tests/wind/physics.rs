//! A boat and her instruments by plain mechanics, for checking against.
//!
//! Nothing here knows how the core corrects anything. The mast is a rigid rod
//! turned by heel, pitch and heading; its top's velocity is the difference of
//! two positions; the wind unit sees the moving air in its own tilted axes.
//! Axes: north, east, down; body: forward, starboard, down.

/// Height of the wind unit above the axis she rolls about, metres.
pub(crate) const MAST_M: f64 = 18.0;

/// Metres a second in a knot.
pub(crate) const KNOT: f64 = 1852.0 / 3600.0;

pub(crate) type Vec3 = [f64; 3];

/// How the boat lies and moves.
#[derive(Clone, Copy)]
pub(crate) struct Sailing {
    /// Steady heel, starboard down, degrees.
    pub(crate) heel: f64,
    /// Amplitude and period of the roll about it.
    pub(crate) roll: (f64, f64),
    /// Amplitude and period of the pitch.
    pub(crate) pitch: (f64, f64),
    /// Course she tries to steer.
    pub(crate) heading: f64,
    /// Along the keel, knots.
    pub(crate) stw: f64,
}

impl Sailing {
    pub(crate) fn heel_at(&self, t: f64) -> f64 {
        let (size, period) = self.roll;
        self.heel + size * (std::f64::consts::TAU * t / period).sin()
    }

    pub(crate) fn pitch_at(&self, t: f64) -> f64 {
        let (size, period) = self.pitch;
        -1.0 + size * (std::f64::consts::TAU * t / period + 0.7).sin()
    }

    /// She yaws a little with the waves and wanders slowly.
    pub(crate) fn heading_at(&self, t: f64) -> f64 {
        self.heading + 2.5 * (t / 1.3).sin() + 4.0 * (t / 37.0).sin()
    }

    pub(crate) fn stw_at(&self, t: f64) -> f64 {
        self.stw + 0.25 * (t / 1.1).sin() + 0.2 * (t / 50.0).cos()
    }

    /// Leeway in degrees by the balance of forces: what heels her pushes her
    /// sideways, and the keel answers with lift by its angle to the water.
    /// 6000 kg, GM 1.05 m, centres 5.4 m apart, keel 2.27 m^2 with a lift
    /// slope of 3 a radian: an invented yacht of common proportions.
    pub(crate) fn leeway(&self) -> f64 {
        if self.stw == 0.0 {
            return 0.0;
        }
        let side_force = 6000.0 * 9.81 * 1.05 * self.heel.to_radians().sin() / 5.4;
        let speed = self.stw * KNOT;
        let lift_slope = 0.5 * 1025.0 * speed * speed * 2.27 * 3.0;
        (side_force / lift_slope).to_degrees()
    }

    fn attitude(&self, t: f64) -> [Vec3; 3] {
        let yaw = about_z(self.heading_at(t));
        let pitch = about_y(self.pitch_at(t));
        let roll = about_x(self.heel_at(t));
        times(&times(&yaw, &pitch), &roll)
    }

    /// Velocity of the masthead through the water, knots.
    fn masthead_velocity(&self, t: f64) -> Vec3 {
        let top = |t: f64| apply(&self.attitude(t), [0.0, 0.0, -MAST_M]);
        let step = 1e-3;
        let (before, after) = (top(t - step), top(t + step));
        let (speed, course) = self.through_water(t);
        let mut velocity = [
            speed * course.to_radians().cos(),
            speed * course.to_radians().sin(),
            0.0,
        ];
        for axis in 0..3 {
            velocity[axis] += (after[axis] - before[axis]) / (2.0 * step) / KNOT;
        }
        velocity
    }

    /// Speed through the water in the direction she really goes: the log
    /// reads the part along the keel.
    fn through_water(&self, t: f64) -> (f64, f64) {
        let leeway = self.leeway();
        let speed = self.stw_at(t) / leeway.to_radians().cos();
        (speed, self.heading_at(t) + leeway)
    }

    /// Wind felt at the masthead in the unit's own plane: (AWA, AWS).
    pub(crate) fn felt(&self, t: f64, wind: Wind) -> (f64, f64) {
        let blowing = wind.velocity();
        let mast = self.masthead_velocity(t);
        let past: Vec3 = std::array::from_fn(|axis| blowing[axis] - mast[axis]);
        let body = apply(&transposed(&self.attitude(t)), past);
        let angle = (-body[1]).atan2(-body[0]).to_degrees();
        (angle, body[0].hypot(body[1]))
    }
}

/// Air over the water, horizontal.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Wind {
    /// Knots.
    pub(crate) speed: f64,
    /// Where it blows from.
    pub(crate) from: f64,
}

impl Wind {
    fn velocity(self) -> Vec3 {
        let towards = (self.from + 180.0).to_radians();
        [self.speed * towards.cos(), self.speed * towards.sin(), 0.0]
    }
}

/// A gusty wind: two speeds of wandering and a slow one, as random walks
/// that are pulled back.
pub(crate) struct Air {
    mean: Wind,
    gust: f64,
    swing: f64,
    slow: f64,
}

impl Air {
    pub(crate) fn new(mean: Wind) -> Self {
        Air {
            mean,
            gust: 0.0,
            swing: 0.0,
            slow: 0.0,
        }
    }

    /// The wind a tenth of a second on. Spread 8 % in gusts of some 10 s,
    /// 4 % slowly; 4 degrees in direction.
    pub(crate) fn step(&mut self, dice: &mut Dice) -> Wind {
        let walk = |value: &mut f64, scale_s: f64, dice: &mut Dice| {
            let keep = (-0.1 / scale_s).exp();
            *value = *value * keep + (1.0 - keep * keep).sqrt() * dice.normal();
        };
        walk(&mut self.gust, 10.0, dice);
        walk(&mut self.swing, 15.0, dice);
        walk(&mut self.slow, 240.0, dice);
        Wind {
            speed: self.mean.speed * (1.0 + 0.08 * self.gust + 0.04 * self.slow),
            from: self.mean.from + 4.0 * self.swing,
        }
    }
}

/// Random numbers that are the same everywhere (xorshift64*).
pub(crate) struct Dice(u64);

impl Dice {
    pub(crate) fn new(seed: u64) -> Self {
        Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    pub(crate) fn uniform(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Mean 0, spread 1: the sum of twelve less six.
    pub(crate) fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

fn about_x(degrees: f64) -> [Vec3; 3] {
    let (s, c) = degrees.to_radians().sin_cos();
    [[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]]
}

fn about_y(degrees: f64) -> [Vec3; 3] {
    let (s, c) = degrees.to_radians().sin_cos();
    [[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]]
}

fn about_z(degrees: f64) -> [Vec3; 3] {
    let (s, c) = degrees.to_radians().sin_cos();
    [[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]
}

fn times(a: &[Vec3; 3], b: &[Vec3; 3]) -> [Vec3; 3] {
    std::array::from_fn(|i| std::array::from_fn(|j| (0..3).map(|k| a[i][k] * b[k][j]).sum()))
}

fn apply(a: &[Vec3; 3], v: Vec3) -> Vec3 {
    std::array::from_fn(|i| (0..3).map(|k| a[i][k] * v[k]).sum())
}

fn transposed(a: &[Vec3; 3]) -> [Vec3; 3] {
    std::array::from_fn(|i| std::array::from_fn(|j| a[j][i]))
}

#[test]
fn the_mechanics_agree_with_worked_cases() {
    let upright = Sailing {
        heel: 0.0,
        roll: (0.0, 7.0),
        pitch: (0.0, 4.0),
        heading: 0.0,
        stw: 0.0,
    };
    // 18 m up, 8 degrees a second: 4.89 kn (worked in the trade).
    let rolling = Sailing {
        roll: (8.0 * 7.0 / std::f64::consts::TAU, 7.0),
        ..upright
    };
    let at_rest = upright.masthead_velocity(0.0);
    let swept = rolling.masthead_velocity(0.0);
    assert!((swept[1] - at_rest[1] - 4.89).abs() < 0.01, "{swept:?}");
    // Heeled to starboard with the wind to port she drifts to starboard, K 12.
    let heeled = Sailing {
        heel: 25.0,
        stw: 6.0,
        ..upright
    };
    assert!(
        (heeled.leeway() * 36.0 / 25.0 - 12.0).abs() < 0.6,
        "{}",
        heeled.leeway()
    );
}

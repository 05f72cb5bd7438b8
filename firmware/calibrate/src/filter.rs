//! A wind that wanders, seen through a few unknown constants: Kalman's filter
//! over two parts of a random walk and two constants. Its answer is that of
//! generalised least squares; how fast the wind wanders is what makes the
//! record likeliest.

/// Two parts of the wind, then the constants.
const STATES: usize = 4;
/// What nothing is known of.
const UNKNOWN: f64 = 1e4;
/// Rows after which what is unknown has been learned.
const LEARNS: usize = 6;

type Square = [[f64; STATES]; STATES];

/// One moment: what is measured along and across the wind, and what the
/// constants would add to each.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Seen {
    pub(crate) at_s: f64,
    pub(crate) along: f64,
    pub(crate) across: f64,
    pub(crate) by_first: (f64, f64),
    pub(crate) by_second: (f64, f64),
}

/// The constants, with their variances.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Told {
    pub(crate) first: f64,
    pub(crate) second: f64,
    pub(crate) first_variance: f64,
    pub(crate) second_variance: f64,
    pub(crate) covariance: f64,
}

impl Told {
    /// The same with what was known of the second beforehand.
    pub(crate) fn with_second_known(self, mean: f64, variance: f64) -> Told {
        let sum = self.second_variance + variance;
        let (by_first, by_second) = (self.covariance / sum, self.second_variance / sum);
        let surprise = mean - self.second;
        Told {
            first: self.first + by_first * surprise,
            second: self.second + by_second * surprise,
            first_variance: self.first_variance - by_first * self.covariance,
            second_variance: self.second_variance * (1.0 - by_second),
            covariance: self.covariance * (1.0 - by_second),
        }
    }
}

/// Logarithms (base 10) of how fast the parts wander, and of the across
/// part's noise, all against the along part's noise.
#[derive(Clone, Copy, Debug)]
struct Wander([f64; 3]);

/// The constants by the likeliest wander; none where they cannot be told.
pub(crate) fn constants(seen: &[Seen]) -> Option<Told> {
    let mut wander = Wander([-3.0, -3.0, 0.0]);
    let (mut told, mut likeliest) = run(seen, wander)?;
    for step in [1.0, 0.5, 0.25] {
        let mut moved = true;
        while moved {
            moved = false;
            for part in 0..3 {
                for by in [-step, step] {
                    let mut other = wander;
                    other.0[part] = (other.0[part] + by).clamp(-6.0, 2.0);
                    let Some((tried, likely)) = run(seen, other) else {
                        continue;
                    };
                    if likely > likeliest + 1e-6 {
                        (wander, told, likeliest, moved) = (other, tried, likely, true);
                    }
                }
            }
        }
    }
    Some(told)
}

/// One run: the constants and the logarithm of the likelihood.
fn run(seen: &[Seen], wander: Wander) -> Option<(Told, f64)> {
    let [along, across, noise] = wander.0.map(|log| 10.0_f64.powf(log));
    let mut state = [0.0; STATES];
    let mut spread: Square =
        std::array::from_fn(|i| std::array::from_fn(|j| if i == j { UNKNOWN } else { 0.0 }));
    let mut before_s = seen.first()?.at_s;
    let (mut squares, mut logs, mut counted) = (0.0, 0.0, 0_usize);
    for (place, seen) in seen.iter().enumerate() {
        let passed = (seen.at_s - before_s).max(0.0);
        before_s = seen.at_s;
        spread[0][0] += along * passed;
        spread[1][1] += across * passed;
        let lines = [
            (
                [1.0, 0.0, seen.by_first.0, seen.by_second.0],
                seen.along,
                1.0,
            ),
            (
                [0.0, 1.0, seen.by_first.1, seen.by_second.1],
                seen.across,
                noise,
            ),
        ];
        for (line, value, noise) in lines {
            let (square, variance) = take(&mut state, &mut spread, &line, value, noise);
            if place >= LEARNS {
                squares += square;
                logs += variance.ln();
                counted += 1;
            }
        }
    }
    let scale = squares / (counted > 0).then_some(counted as f64)?;
    let likely = -0.5 * (logs + counted as f64 * scale.ln());
    let told = Told {
        first: state[2],
        second: state[3],
        first_variance: spread[2][2] * scale,
        second_variance: spread[3][3] * scale,
        covariance: spread[2][3] * scale,
    };
    likely.is_finite().then_some((told, likely))
}

/// One measured value: the square of its surprise, and its variance.
fn take(
    state: &mut [f64; STATES],
    spread: &mut Square,
    line: &[f64; STATES],
    value: f64,
    noise: f64,
) -> (f64, f64) {
    let seen: [f64; STATES] =
        std::array::from_fn(|i| spread[i].iter().zip(line).map(|(s, l)| s * l).sum());
    let variance = seen.iter().zip(line).map(|(s, l)| s * l).sum::<f64>() + noise;
    let told: f64 = state.iter().zip(line).map(|(s, l)| s * l).sum();
    let surprise = value - told;
    for i in 0..STATES {
        state[i] += seen[i] / variance * surprise;
        for j in 0..STATES {
            spread[i][j] -= seen[i] * seen[j] / variance;
        }
    }
    (surprise * surprise / variance, variance)
}

//! Vectors in a plane, least squares, and how sure an answer is.

/// A vector in a plane: along and across, or north and east.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Plane {
    /// Along the bow, or north.
    pub x: f64,
    /// To starboard, or east.
    pub y: f64,
}

impl Plane {
    /// So long, in this direction (degrees clockwise from x).
    pub fn polar(length: f64, degrees: f64) -> Plane {
        let (sin, cos) = degrees.to_radians().sin_cos();
        Plane {
            x: length * cos,
            y: length * sin,
        }
    }

    /// Length.
    pub fn length(self) -> f64 {
        self.x.hypot(self.y)
    }

    /// Degrees clockwise from x, -180 to 180.
    pub fn direction_deg(self) -> f64 {
        self.y.atan2(self.x).to_degrees()
    }

    /// Turned clockwise.
    pub fn turned(self, degrees: f64) -> Plane {
        let (sin, cos) = degrees.to_radians().sin_cos();
        Plane {
            x: self.x * cos - self.y * sin,
            y: self.x * sin + self.y * cos,
        }
    }
}

impl std::ops::Add for Plane {
    type Output = Plane;
    fn add(self, other: Plane) -> Plane {
        Plane {
            x: self.x + other.x,
            y: self.y + other.y,
        }
    }
}

impl std::ops::Sub for Plane {
    type Output = Plane;
    fn sub(self, other: Plane) -> Plane {
        self + other * -1.0
    }
}

impl std::ops::Mul<f64> for Plane {
    type Output = Plane;
    fn mul(self, by: f64) -> Plane {
        Plane {
            x: self.x * by,
            y: self.y * by,
        }
    }
}

/// Rows of a fit, gathered as normal equations of `N` unknowns.
#[derive(Clone, Debug)]
pub(crate) struct Normal<const N: usize> {
    left: [[f64; N]; N],
    right: [f64; N],
    square: f64,
}

impl<const N: usize> Normal<N> {
    pub(crate) const fn new() -> Normal<N> {
        Normal {
            left: [[0.0; N]; N],
            right: [0.0; N],
            square: 0.0,
        }
    }

    /// `row` times the unknowns is `value`, with this weight.
    pub(crate) fn add(&mut self, row: &[f64; N], value: f64, weight: f64) {
        for (a, line) in row.iter().zip(&mut self.left) {
            for (b, cell) in row.iter().zip(line) {
                *cell += weight * a * b;
            }
        }
        for (a, cell) in row.iter().zip(&mut self.right) {
            *cell += weight * a * value;
        }
        self.square += weight * value * value;
    }

    /// The unknowns; none where the rows do not tell them apart.
    pub(crate) fn solve(&self) -> Option<[f64; N]> {
        solve(self.left, self.right)
    }

    /// The unknowns and what is left of the squares.
    pub(crate) fn solve_with_rest(&self) -> Option<([f64; N], f64)> {
        let unknowns = self.solve()?;
        let told: f64 = unknowns.iter().zip(self.right).map(|(u, r)| u * r).sum();
        Some((unknowns, (self.square - told).max(0.0)))
    }
}

/// A pivot under this share of its diagonal tells nothing.
const SINGULAR: f64 = 1e-10;

/// Elimination with the symmetrical matrix's own diagonal as pivots.
fn solve<const N: usize>(mut left: [[f64; N]; N], mut right: [f64; N]) -> Option<[f64; N]> {
    let scale: [f64; N] = std::array::from_fn(|i| left[i][i].max(f64::MIN_POSITIVE));
    for pivot in 0..N {
        if left[pivot][pivot] < SINGULAR * scale[pivot] || !left[pivot][pivot].is_finite() {
            return None;
        }
        let (line, value) = (left[pivot], right[pivot]);
        for below in pivot + 1..N {
            let by = left[below][pivot] / line[pivot];
            for (cell, above) in left[below].iter_mut().zip(line) {
                *cell -= by * above;
            }
            right[below] -= by * value;
        }
    }
    for row in (0..N).rev() {
        let known: f64 = (row + 1..N).map(|col| left[row][col] * right[col]).sum();
        right[row] = (right[row] - known) / left[row][row];
    }
    Some(right)
}

/// Nine in ten lie within so many standard errors of a mean of many (normal)...
const NINE_IN_TEN: f64 = 1.645;

/// ...and of few: Student's t, two-sided nine in ten, by degrees of freedom, to
/// a hundredth of what tables print (Cornish and Fisher's expansion).
pub(crate) fn within_nine_in_ten(error: f64, freedom: usize) -> f64 {
    let (z, n) = (NINE_IN_TEN, freedom.max(2) as f64);
    let z3 = z * z * z;
    let first = (z3 + z) / (4.0 * n);
    let second = (5.0 * z3 * z * z + 16.0 * z3 + 3.0 * z) / (96.0 * n * n);
    error * (z + first + second)
}

/// The standard error of an estimate, by leaving each leg out in turn: what
/// belongs together by chance in one leg then counts once (Quenouille, Tukey:
/// the jackknife).
pub(crate) fn without_each<const N: usize>(
    legs: usize,
    estimate: impl Fn(Option<usize>) -> Option<[f64; N]>,
) -> Option<([f64; N], [f64; N])> {
    let whole = estimate(None)?;
    let without: Vec<[f64; N]> = (0..legs)
        .map(|leg| estimate(Some(leg)))
        .collect::<Option<_>>()?;
    let n = legs as f64;
    let error = std::array::from_fn(|i| {
        let mean = without.iter().map(|it| it[i]).sum::<f64>() / n;
        let square: f64 = without.iter().map(|it| (it[i] - mean).powi(2)).sum();
        ((n - 1.0) / n * square).sqrt()
    });
    Some((whole, error))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Table of Student's t, two-sided 0.10 (any statistics handbook; from memory).
    #[test]
    fn few_legs_widen_as_the_table_says() {
        for (freedom, t) in [(4, 2.132), (8, 1.860), (12, 1.782), (30, 1.697)] {
            let ours = within_nine_in_ten(1.0, freedom);
            assert!((ours / t - 1.0).abs() < 0.01, "{freedom}: {ours} for {t}");
        }
    }

    #[test]
    fn a_line_is_found_and_two_like_columns_are_refused() {
        let mut rows = Normal::<2>::new();
        let mut alike = Normal::<2>::new();
        for x in 0..10 {
            let x = f64::from(x);
            rows.add(&[1.0, x], 3.0 - 2.0 * x, 1.0);
            alike.add(&[x, 2.0 * x], x, 1.0);
        }
        let ([a, b], rest) = rows.solve_with_rest().unwrap();
        assert!((a - 3.0).abs() < 1e-9 && (b + 2.0).abs() < 1e-9 && rest < 1e-9);
        assert_eq!(alike.solve(), None);
    }
}

//! Tables of measured values and how to read between their points.

use super::error::NetworkError;

/// How to read between the points of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Interpolation {
    /// Straight lines.
    Linear,
    /// Cubic pieces that never overshoot: between two points the curve stays between their values
    /// (PCHIP; Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5, 1984).
    #[default]
    Monotone,
}

/// A value over one axis. Outside the axis the end value holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Table1 {
    x: Vec<f64>,
    y: Vec<f64>,
    /// Slope at each point, for [`Interpolation::Monotone`].
    slope: Vec<f64>,
    interpolation: Interpolation,
}

impl Table1 {
    /// A table of at least one point, `x` rising.
    ///
    /// # Errors
    /// [`NetworkError::BadValue`] for unequal lengths, no points, values that are not finite, or an
    /// axis that does not rise.
    pub fn new(
        name: &str,
        x: &[f64],
        y: &[f64],
        interpolation: Interpolation,
    ) -> Result<Self, NetworkError> {
        let bad = |what, value, expected| NetworkError::BadValue {
            name: name.to_owned(),
            what,
            value,
            expected,
        };
        if x.is_empty() || x.len() != y.len() {
            return Err(bad(
                "number of points",
                x.len() as f64,
                "as many positions as values, at least one",
            ));
        }
        if let Some(v) = x.iter().chain(y).find(|v| !v.is_finite()) {
            return Err(bad("point", *v, "a finite number"));
        }
        if let Some(w) = x.windows(2).find(|w| w[1] <= w[0]) {
            return Err(bad("position", w[1], "positions that rise"));
        }
        let slope = monotone_slopes(x, y);
        Ok(Self {
            x: x.to_vec(),
            y: y.to_vec(),
            slope,
            interpolation,
        })
    }

    /// The same value everywhere.
    pub fn constant(value: f64) -> Self {
        Self {
            x: vec![0.0],
            y: vec![value],
            slope: vec![0.0],
            interpolation: Interpolation::Linear,
        }
    }

    /// The value at `x`.
    pub fn at(&self, x: f64) -> f64 {
        let last = self.x.len() - 1;
        if last == 0 || x.is_nan() || x <= self.x[0] {
            return self.y[0];
        }
        if x >= self.x[last] {
            return self.y[last];
        }
        let k = self.x.partition_point(|p| *p <= x) - 1;
        let h = self.x[k + 1] - self.x[k];
        let t = (x - self.x[k]) / h;
        let rise = self.y[k + 1] - self.y[k];
        match self.interpolation {
            Interpolation::Linear => self.y[k] + t * rise,
            Interpolation::Monotone => {
                let (d0, d1) = (h * self.slope[k], h * self.slope[k + 1]);
                self.y[k] + t * (d0 + t * (3.0 * rise - 2.0 * d0 - d1 + t * (d0 + d1 - 2.0 * rise)))
            }
        }
    }

    /// The points.
    pub fn points(&self) -> (&[f64], &[f64]) {
        (&self.x, &self.y)
    }
}

/// Slopes of the PCHIP curve: the weighted harmonic mean of the neighbouring secants, 0 where they
/// differ in sign, and a one-sided three-point rule at the ends.
fn monotone_slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let n = x.len();
    if n < 2 {
        return vec![0.0; n];
    }
    let h: Vec<f64> = x.windows(2).map(|w| w[1] - w[0]).collect();
    let secant: Vec<f64> = y
        .windows(2)
        .zip(&h)
        .map(|(w, h)| (w[1] - w[0]) / h)
        .collect();
    if n == 2 {
        return vec![secant[0]; 2];
    }
    let mut slope = vec![0.0; n];
    for k in 1..n - 1 {
        let (before, after) = (secant[k - 1], secant[k]);
        if before * after > 0.0 {
            let (w1, w2) = (2.0 * h[k] + h[k - 1], h[k] + 2.0 * h[k - 1]);
            slope[k] = (w1 + w2) / (w1 / before + w2 / after);
        }
    }
    slope[0] = end_slope(h[0], h[1], secant[0], secant[1]);
    slope[n - 1] = end_slope(h[n - 2], h[n - 3], secant[n - 2], secant[n - 3]);
    slope
}

fn end_slope(h0: f64, h1: f64, s0: f64, s1: f64) -> f64 {
    let slope = ((2.0 * h0 + h1) * s0 - h0 * s1) / (h0 + h1);
    if slope * s0 <= 0.0 {
        0.0
    } else if s0 * s1 <= 0.0 && slope.abs() > 3.0 * s0.abs() {
        3.0 * s0
    } else {
        slope
    }
}

/// A value over two axes, straight between the points. Outside an axis the end value holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Table2 {
    rows: Vec<f64>,
    tables: Vec<Table1>,
}

impl Table2 {
    /// One table over `x` for each position of the second axis, which must rise.
    ///
    /// # Errors
    /// As for [`Table1::new`].
    pub fn new(
        name: &str,
        x: &[f64],
        rows: &[f64],
        values: &[Vec<f64>],
    ) -> Result<Self, NetworkError> {
        // Checks the second axis by the same rules.
        Table1::new(name, rows, &vec![0.0; values.len()], Interpolation::Linear)?;
        let tables = values
            .iter()
            .map(|row| Table1::new(name, x, row, Interpolation::Linear))
            .collect::<Result<_, _>>()?;
        Ok(Self {
            rows: rows.to_vec(),
            tables,
        })
    }

    /// The same value everywhere.
    pub fn constant(value: f64) -> Self {
        Self {
            rows: vec![0.0],
            tables: vec![Table1::constant(value)],
        }
    }

    /// The value at `x` and position `row` of the second axis.
    pub fn at(&self, x: f64, row: f64) -> f64 {
        let last = self.rows.len() - 1;
        if last == 0 || row.is_nan() || row <= self.rows[0] {
            return self.tables[0].at(x);
        }
        if row >= self.rows[last] {
            return self.tables[last].at(x);
        }
        let k = self.rows.partition_point(|p| *p <= row) - 1;
        let t = (row - self.rows[k]) / (self.rows[k + 1] - self.rows[k]);
        self.tables[k].at(x) * (1.0 - t) + self.tables[k + 1].at(x) * t
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn linear_reads_the_chord_and_holds_the_ends() {
        let t = Table1::new(
            "t",
            &[0.0, 1.0, 3.0],
            &[1.0, 2.0, 6.0],
            Interpolation::Linear,
        )
        .unwrap();
        assert_eq!(
            (t.at(-5.0), t.at(0.5), t.at(2.0), t.at(9.0)),
            (1.0, 1.5, 4.0, 6.0)
        );
        assert_eq!(t.at(f64::NAN), 1.0);
    }

    // Values of SciPy's PchipInterpolator for the same points.
    #[test]
    fn monotone_equals_the_general_purpose_library() {
        let x = [0.0, 0.1, 0.3, 0.6, 1.0];
        let y = [3.0, 3.4, 3.6, 3.65, 4.2];
        let t = Table1::new("t", &x, &y, Interpolation::Monotone).unwrap();
        for (at, expected) in REFERENCE {
            assert!(
                (t.at(at) - expected).abs() < 1e-12,
                "{at}: {} {expected}",
                t.at(at)
            );
        }
    }

    const REFERENCE: [(f64, f64); 11] = [
        (0.02, 3.100114285714286),
        (0.05, 3.2410714285714284),
        (0.1, 3.4),
        (0.17, 3.5022724999999997),
        (0.25, 3.576383928571429),
        (0.31, 3.602873947247496),
        (0.45, 3.625502481389578),
        (0.59, 3.6472555812884844),
        (0.75, 3.7682020380073555),
        (0.9, 4.003253223590925),
        (0.99, 4.179420863335253),
    ];

    #[test]
    fn two_axes_interpolate_both() {
        let t = Table2::new(
            "t",
            &[0.0, 1.0],
            &[0.0, 10.0],
            &[vec![1.0, 2.0], vec![3.0, 6.0]],
        )
        .unwrap();
        assert!((t.at(0.5, 5.0) - 3.0).abs() < 1e-15);
        assert_eq!(t.at(0.0, -40.0), 1.0);
        assert_eq!(t.at(1.0, 99.0), 6.0);
    }

    #[test]
    fn wrong_tables_are_refused() {
        for (x, y) in [
            (vec![], vec![]),
            (vec![1.0, 1.0], vec![0.0; 2]),
            (vec![0.0], vec![f64::NAN]),
        ] {
            assert!(Table1::new("t", &x, &y, Interpolation::Linear).is_err());
        }
    }
}

//! How a measured time spreads.

use super::timing::Window;

/// Count, mean, deviation and extremes of a time, in steps, and when the extremes came.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// How many.
    pub count: u64,
    /// How many lie outside their limits.
    pub outside: u64,
    /// The shortest and when, in steps.
    pub least: (u64, u64),
    /// The longest and when, in steps.
    pub most: (u64, u64),
    sum: u64,
    /// About the first value, so that squares stay small.
    squares: f64,
    first: u64,
}

impl Default for Spread {
    fn default() -> Self {
        Self {
            count: 0,
            outside: 0,
            least: (u64::MAX, 0),
            most: (0, 0),
            sum: 0,
            squares: 0.0,
            first: 0,
        }
    }
}

impl Spread {
    /// Takes in a time that was seen `at`.
    #[inline]
    pub fn see(&mut self, time: u64, at: u64, limits: Window) {
        if self.count == 0 {
            self.first = time;
        }
        self.count += 1;
        self.sum = self.sum.saturating_add(time);
        let off = time as f64 - self.first as f64;
        self.squares += off * off;
        if time < self.least.0 {
            self.least = (time, at);
        }
        if time > self.most.0 {
            self.most = (time, at);
        }
        self.outside += u64::from(!limits.holds(time));
    }

    /// The mean, in steps; `None` where there is nothing.
    pub fn mean(&self) -> Option<f64> {
        (self.count > 0).then(|| self.sum as f64 / self.count as f64)
    }

    /// The standard deviation of what was seen, in steps.
    pub fn deviation(&self) -> Option<f64> {
        let off = self.mean()? - self.first as f64;
        Some(
            (self.squares / self.count as f64 - off * off)
                .max(0.0)
                .sqrt(),
        )
    }
}

/// The largest step that every time seen is a whole number of: the capture's own sampling, where its times are on a grid.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Grid(u64);

impl Grid {
    /// Takes in a time.
    #[inline]
    pub fn see(&mut self, time: u64) {
        if self.0 == 1 || (self.0 != 0 && time.is_multiple_of(self.0)) {
            return;
        }
        let (mut a, mut b) = (self.0, time);
        while b != 0 {
            (a, b) = (b, a % b);
        }
        self.0 = a;
    }

    /// The step; 0 where nothing was seen.
    pub fn step(self) -> u64 {
        self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spread_has_mean_and_deviation() {
        let limits = Window {
            low: 3,
            nominal: 5,
            high: 8,
        };
        let mut spread = Spread::default();
        assert_eq!((spread.mean(), spread.deviation()), (None, None));
        for (at, time) in [2, 4, 4, 4, 5, 5, 7, 9].into_iter().enumerate() {
            spread.see(time, at as u64, limits);
        }
        assert_eq!((spread.mean(), spread.deviation()), (Some(5.0), Some(2.0)));
        assert_eq!((spread.least, spread.most), ((2, 0), (9, 7)));
        assert_eq!((spread.count, spread.outside), (8, 2));
    }

    #[test]
    fn the_grid_is_the_common_step() {
        let mut grid = Grid::default();
        [84, 126, 42, 0, 420].into_iter().for_each(|t| grid.see(t));
        assert_eq!(grid.step(), 42);
        grid.see(85);
        assert_eq!(grid.step(), 1);
    }
}

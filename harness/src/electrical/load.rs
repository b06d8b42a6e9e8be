//! Loads between two nodes that are not strips, and how each follows its supply.

/// How the current of a load depends on its supply.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LoadLaw {
    /// A sink of constant current. Also a linear regulator, whose input current is its output
    /// current plus what it uses itself. It draws its full current from `full_v` on and falls in
    /// proportion to the supply below, since no sink drives its own terminals backwards.
    ConstantCurrent {
        /// Supply from which the full current flows, in volt; above 0.
        full_v: f64,
    },
    /// A switching regulator or an amplifier: current is power over supply. Below `min_v` it turns
    /// off and draws nothing.
    ConstantPower {
        /// Lowest working supply, in volt; above 0.
        min_v: f64,
    },
    /// A source of current: its amount flows out of its positive terminal at any supply. What a bulk
    /// capacitor delivers in one moment.
    Injection,
}

impl LoadLaw {
    /// A current sink that holds its current down to 0.1 V.
    pub const SINK: LoadLaw = LoadLaw::ConstantCurrent { full_v: 0.1 };

    /// True for a law whose current rises as its supply falls.
    pub fn is_constant_power(self) -> bool {
        matches!(self, LoadLaw::ConstantPower { .. })
    }

    /// Current and slope at a supply, with `amount` in ampere or watt.
    ///
    /// A constant-power load below its lowest working supply is continued with the current at that
    /// supply, so that the iteration stays bounded; the solver decides afterwards if it is off.
    #[inline]
    pub(super) fn current(self, amount: f64, supply_v: f64) -> (f64, f64) {
        match self {
            LoadLaw::ConstantCurrent { full_v } => {
                if supply_v >= full_v {
                    (amount, 0.0)
                } else if supply_v > 0.0 {
                    (amount * supply_v / full_v, amount / full_v)
                } else {
                    (0.0, 0.0)
                }
            }
            LoadLaw::ConstantPower { min_v } => {
                if supply_v > min_v {
                    let a = amount / supply_v;
                    (a, -a / supply_v)
                } else {
                    (amount / min_v, 0.0)
                }
            }
            LoadLaw::Injection => (-amount, 0.0),
        }
    }
}

/// What a load does in a solved frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LoadState {
    /// It runs.
    On,
    /// Its supply is below its lowest working supply: it is off.
    Off,
}

/// State and workspace of one load.
#[derive(Debug, Clone)]
pub(super) struct LoadWork {
    pub(super) law: LoadLaw,
    /// Current or power asked for, in ampere or watt.
    pub(super) asked: f64,
    /// What the present attempt uses of it.
    pub(super) amount: f64,
    pub(super) v: f64,
    pub(super) a: f64,
    pub(super) slope_s: f64,
    /// Current the linear network delivers at `v`.
    pub(super) lin: f64,
    v_old: f64,
    lin_old: f64,
    a_old: f64,
    pub(super) v_kept: f64,
    held_a: Option<f64>,
    pub(super) state: LoadState,
}

impl LoadWork {
    pub(super) fn new(law: LoadLaw, asked: f64) -> Self {
        Self {
            law,
            asked,
            amount: asked,
            v: 0.0,
            a: 0.0,
            slope_s: 0.0,
            lin: 0.0,
            v_old: 0.0,
            lin_old: 0.0,
            a_old: 0.0,
            v_kept: 0.0,
            held_a: None,
            state: LoadState::On,
        }
    }

    /// Lowest working supply; 0 for a law that has none.
    pub(super) fn min_v(&self) -> f64 {
        match self.law {
            LoadLaw::ConstantPower { min_v } => min_v,
            LoadLaw::ConstantCurrent { .. } | LoadLaw::Injection => 0.0,
        }
    }

    pub(super) fn evaluate(&mut self) {
        (self.a, self.slope_s) = self.current(self.v);
    }

    fn current(&self, v: f64) -> (f64, f64) {
        match self.held_a {
            Some(a) => (a, 0.0),
            None => self.law.current(self.amount, v),
        }
    }

    /// Holds a constant-power load at the current it draws at the present supply.
    pub(super) fn hold(&mut self) {
        if self.law.is_constant_power() {
            self.held_a = Some(self.law.current(self.amount, self.v).0);
            self.v_kept = self.v;
        }
    }

    /// Lets it follow its law again; by how much its supply moved, in volt.
    pub(super) fn release(&mut self) -> f64 {
        match self.held_a.take() {
            Some(_) => (self.v_kept - self.v).abs(),
            None => 0.0,
        }
    }

    /// Remembers the present state and goes to supply `v`.
    pub(super) fn step_to(&mut self, v: f64) {
        (self.v_old, self.lin_old, self.a_old) = (self.v, self.lin, self.a);
        self.v = v;
        self.lin = self.a_old + self.slope_s * (v - self.v_old);
    }

    pub(super) fn slope_at(&self, share: f64) -> f64 {
        let step = self.v - self.v_old;
        let (a, _) = self.current(self.v_old + share * step);
        (a - self.lin_old - share * (self.lin - self.lin_old)) * step
    }

    pub(super) fn shorten(&mut self, share: f64) {
        self.v = self.v_old + share * (self.v - self.v_old);
        self.lin = self.lin_old + share * (self.lin - self.lin_old);
    }
}

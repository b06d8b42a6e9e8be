//! The board at run time: what its logic and amplifier ask for, and what its rail gives.

use crate::build::parts::Board;
use crate::build::parts::RegulatorKind::{Direct, Linear, Switching};
use crate::build::rated::Corner;
use crate::electrical::regulator::Regulator;
use crate::electrical::{Interpolation, NetworkError, Table1};

/// Voltage above its input at which a regulator conducts backwards through its own diode, volts (common practice).
const BACKWARDS_V: f64 = 0.6;

/// What the board needs at run time.
pub(super) struct BoardState {
    regulator: Option<Regulator>,
    rail_a: f64,
    logic_amount: f64,
    amplifier: Option<(f64, f64)>,
    /// Capacitance on the rail, farads; 0 where none is stated or the rail is the supply itself.
    rail_f: f64,
}

pub(super) fn board_state(board: &Board, corner: Corner) -> Result<BoardState, NetworkError> {
    let rail_a = board.logic.at(corner) + board.card.as_ref().map_or(0.0, |c| c.at(corner));
    let r = &board.regulator;
    let own_a = r.quiescent.at(corner);
    let (xs, ys): (Vec<f64>, Vec<f64>) = r.dropout.iter().copied().unzip();
    let dropout_v = if xs.is_empty() {
        Table1::constant(0.0)
    } else {
        Table1::new("dropout", &xs, &ys, Interpolation::Linear)?
    };
    let (regulator, logic_amount) = match r.kind {
        Direct => (None, rail_a + own_a),
        Linear => (
            Some(Regulator::Linear {
                output_v: r.output.si(),
                dropout_v,
                own_a,
            }),
            rail_a + own_a,
        ),
        Switching => {
            let efficiency = match corner {
                Corner::High => r.efficiency.low_si(),
                _ => r.efficiency.si(),
            };
            let min_input_v = r
                .input_min
                .as_ref()
                .map_or(super::lower::POWER_LOAD_MIN_V, |v| v.si());
            let regulator = Regulator::Switching {
                output_v: r.output.si(),
                min_input_v,
                efficiency: Table1::constant(efficiency),
                own_a,
            };
            (
                Some(regulator),
                r.output.si() * rail_a / efficiency + r.output.si() * own_a,
            )
        }
    };
    let amplifier = board.amplifier.as_ref().map(|a| {
        let efficiency = if corner == Corner::High {
            a.efficiency.low_si()
        } else {
            a.efficiency.si()
        };
        // The idle current is stated at about the nominal voltage of a lithium cell.
        (a.power.at(corner) / efficiency, a.idle.at(corner) * 3.7)
    });
    let rail_f = match (&regulator, &board.rail_capacitance) {
        (Some(_), Some(c)) if corner == Corner::High => c.low_si(),
        (Some(_), Some(c)) => c.si(),
        _ => 0.0,
    };
    Ok(BoardState {
        regulator,
        rail_a,
        logic_amount,
        amplifier,
        rail_f,
    })
}

impl BoardState {
    /// What logic and amplifier ask for at a sound level, 0..1, in the order of the lowered loads.
    pub(super) fn amounts(&self, sound: f64, loads: &mut [f64]) {
        let amplifier = self
            .amplifier
            .map(|(full_w, idle_w)| idle_w + full_w * sound.clamp(0.0, 1.0));
        for (slot, amount) in loads
            .iter_mut()
            .zip(std::iter::once(self.logic_amount).chain(amplifier))
        {
            *slot = amount;
        }
    }

    /// The rail in a dip of the input that lasts up to `dip_s`: the capacitor on it holds it up, falling from where
    /// the average input keeps it by `I·t/C`, though never more than a diode's voltage above the input, since a
    /// regulator conducts backwards there. Never below what the dip would give if it lasted for ever.
    ///
    /// A coincidence of pulses passes within one PWM period: what is on then and not always on has gone off by its end.
    pub(super) fn rail_in_dip(&self, average_v: f64, dip_v: f64, dip_s: f64) -> f64 {
        let lasting = self.rail(dip_v);
        let held = self.rail(average_v) - self.rail_a * dip_s / self.rail_f;
        if dip_v.is_nan() || !held.is_finite() {
            return lasting;
        }
        lasting.max(held.min(dip_v + BACKWARDS_V))
    }

    pub(super) fn rail(&self, input_v: f64) -> f64 {
        match &self.regulator {
            None => input_v,
            Some(_) if input_v.is_nan() => f64::NAN,
            Some(r) => r.at(input_v, self.rail_a).output_v,
        }
    }
}

/// Amounts of a board's loads in solver order, amperes or watts as their laws say: its logic and, where it has
/// one, its amplifier at a share of full power.
///
/// # Errors
/// Figures of the regulator that the solver refuses.
pub fn load_amounts(board: &Board, corner: Corner, sound: f64) -> Result<Vec<f64>, NetworkError> {
    let state = board_state(board, corner)?;
    let mut out = vec![state.logic_amount];
    if let Some((full_w, idle_w)) = state.amplifier {
        out.push(idle_w + full_w * sound.clamp(0.0, 1.0));
    }
    Ok(out)
}

/// Supply at a board's terminals below which it may be reset, its memory card fail or its regulator stop, at
/// the cautious end of every figure and with its logic alone as load, volts; `None` where it states none of
/// these levels.
///
/// # Errors
/// Figures of the regulator that no curve goes through.
pub fn brown_out_v(board: &Board) -> Result<Option<f64>, NetworkError> {
    let state = board_state(board, Corner::High)?;
    // What the terminals must have above the rail. A switching regulator holds its rail down to its own
    // lowest input, which is one of the levels.
    let above_rail_v = match &state.regulator {
        None => Some(0.0),
        Some(Regulator::Linear { dropout_v, .. }) => Some(dropout_v.at(state.rail_a)),
        Some(Regulator::Switching { .. }) => None,
    };
    let rail = [&board.reset_level, &board.card_min];
    let rail = rail
        .into_iter()
        .flatten()
        .filter_map(|level| Some(level.high_si() + above_rail_v?));
    let input = [&board.supply_min, &board.regulator.input_min];
    let input = input.into_iter().flatten().map(|level| level.high_si());
    Ok(rail.chain(input).reduce(f64::max))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn board(rail_f: f64) -> BoardState {
        BoardState {
            regulator: Some(Regulator::Linear {
                output_v: 3.3,
                dropout_v: Table1::constant(0.1),
                own_a: 0.0,
            }),
            rail_a: 0.05,
            logic_amount: 0.05,
            amplifier: None,
            rail_f,
        }
    }

    // 100 µF at 50 mA fall by 0.5 V a millisecond (C·ΔV = I·t).
    #[test]
    fn a_capacitor_holds_the_rail_through_a_short_dip_only() {
        let b = board(100e-6);
        assert!((b.rail_in_dip(3.6, 3.0, 0.4e-3) - 3.1).abs() < 1e-9);
        assert!(
            (b.rail_in_dip(3.6, 3.0, 2e-3) - 2.9).abs() < 1e-9,
            "the dip itself"
        );
        assert!(
            (b.rail_in_dip(3.6, 2.2, 0.1e-3) - 2.8).abs() < 1e-9,
            "backwards"
        );
        assert!((board(0.0).rail_in_dip(3.6, 3.0, 1e-3) - 2.9).abs() < 1e-9);
        assert!((b.rail_in_dip(3.6, 3.0, f64::NAN) - 2.9).abs() < 1e-9);
        assert!(b.rail_in_dip(3.6, f64::NAN, 1e-3).is_nan());
    }
}

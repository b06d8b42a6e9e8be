//! A cell type from the build file, as the solver's cell under a condition.

use super::condition::Condition;
use crate::build::parts::{CellType, Map};
use crate::electrical::{Ageing, CellModel, Interpolation, NetworkError, RcPair, Table1, Table2};

/// The cell model of a type under a condition.
///
/// # Errors
/// A table that the solver's own rules refuse; build files are checked for the same before.
pub fn cell_model(cell: &CellType, condition: &Condition) -> Result<CellModel, NetworkError> {
    let interpolation = if cell.ocv_linear {
        Interpolation::Linear
    } else {
        Interpolation::Monotone
    };
    let capacity = if condition.cautious {
        cell.capacity.low_si()
    } else {
        cell.capacity.si()
    };
    let rc = cell.rc.iter().map(|pair| {
        Ok(RcPair {
            ohm: table(&cell.id, &pair.resistance)?,
            farad: Table2::constant(pair.capacitance.si()),
        })
    });
    let model = CellModel {
        capacity_ah: capacity / 3600.0,
        ocv_v: Table1::new(&cell.id, &cell.ocv_soc, &cell.ocv_v, interpolation)?,
        r0_ohm: table(&cell.id, &cell.r0)?,
        rc: rc.collect::<Result<_, NetworkError>>()?,
        ageing: ageing(cell, condition),
        thermal: None,
    };
    model.check(&cell.id)?;
    Ok(model)
}

fn ageing(cell: &CellType, condition: &Condition) -> Ageing {
    if !condition.aged {
        return Ageing::default();
    }
    Ageing {
        resistance: 1.0 + cell.ageing_resistance.si(),
        capacity: (1.0 - cell.ageing_capacity.si()).max(0.01),
    }
}

fn table(name: &str, map: &Map) -> Result<Table2, NetworkError> {
    let rows: Vec<f64> = map.temperature_k.iter().map(|k| k - 273.15).collect();
    Table2::new(name, &map.soc, &rows, &map.value)
}

//! A cell type from the build file, as the solver's cell under a condition.

use super::condition::Condition;
use crate::build::parts::{CellType, Map};
use crate::build::rated::Corner;
use crate::electrical::{
    Ageing, CellModel, Interpolation, NetworkError, RcPair, Table1, Table2, Thermal,
};

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
        thermal: thermal(cell, condition),
    };
    model.check(&cell.id)?;
    Ok(model)
}

/// How the cell warms itself, where its heat data are known. A warm cell sags less, so the cautious side is the one
/// that stays cold: high heat capacity, good cooling. How hot it may get is a check of its own.
fn thermal(cell: &CellType, condition: &Condition) -> Option<Thermal> {
    let corner = if condition.cautious {
        Corner::High
    } else {
        Corner::Nominal
    };
    Some(Thermal {
        joule_per_k: cell.heat_capacity.as_ref()?.at(corner),
        watt_per_k: cell.cooling.as_ref()?.at(corner),
        ambient_c: condition.temperature_k - 273.15,
    })
    .filter(|t| t.joule_per_k > 0.0)
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

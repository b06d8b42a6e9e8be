//! A cell type: open-circuit voltage, resistances, capacity and limits.

use crate::build::rated::{need_positive, rated, rated_not_negative, Rated};
use crate::build::reader::Table;
use crate::units::{
    Capacitance, Charge, Current, HeatCapacity, Length, Quantity, Ratio, Resistance, Temperature,
    ThermalConductance, Time, Voltage,
};

/// A quantity over temperature (rows) and state of charge (columns); one row or column means "the same everywhere".
#[derive(Debug, Clone, PartialEq)]
pub struct Map {
    /// Kelvin, rising.
    pub temperature_k: Vec<f64>,
    /// 0..1, rising.
    pub soc: Vec<f64>,
    /// `value[temperature][soc]`, SI units.
    pub value: Vec<Vec<f64>>,
    /// Where the figures come from.
    pub source: Option<String>,
}

impl Map {
    /// The same value everywhere.
    pub fn constant(value: f64, source: Option<String>) -> Self {
        Self {
            temperature_k: vec![298.15],
            soc: vec![0.5],
            value: vec![vec![value]],
            source,
        }
    }
}

/// One resistor-capacitor pair.
#[derive(Debug, Clone, PartialEq)]
pub struct RcPair {
    /// Resistance over temperature and SoC.
    pub resistance: Map,
    /// Capacitance, farads.
    pub capacitance: Rated<Capacitance>,
}

/// Everything known of a cell type.
#[derive(Debug, Clone, PartialEq)]
pub struct CellType {
    /// Catalogue id, or the name of the part that defines it.
    pub id: String,
    /// What a person calls it.
    pub title: String,
    /// Charge between full and empty of a new cell.
    pub capacity: Rated<Charge>,
    /// State of charge, 0..1, rising from 0 to 1.
    pub ocv_soc: Vec<f64>,
    /// Open-circuit voltage at each state of charge, volts.
    pub ocv_v: Vec<f64>,
    /// Whether the table is read with straight lines between its points (else a monotone cubic).
    pub ocv_linear: bool,
    /// Where the table comes from.
    pub ocv_source: Option<String>,
    /// Series resistance of a new cell.
    pub r0: Map,
    /// None, one or two pairs.
    pub rc: Vec<RcPair>,
    /// How much the resistances grow until the end of life, as a share.
    pub ageing_resistance: Rated<Ratio>,
    /// How much capacity is lost until the end of life, as a share.
    pub ageing_capacity: Rated<Ratio>,
    /// Highest continuous discharge current.
    pub continuous: Option<Rated<Current>>,
    /// Highest pulse discharge current.
    pub pulse: Option<Rated<Current>>,
    /// How long a pulse may last.
    pub pulse_time: Option<Rated<Time>>,
    /// Voltage below which the cell must not be discharged.
    pub cut_off: Rated<Voltage>,
    /// Whether it cannot be put in the wrong way round: soldered tabs or a keyed connector.
    pub keyed: bool,
    /// Coldest cell at which it may be discharged.
    pub temperature_min: Option<Rated<Temperature>>,
    /// Hottest cell at which it may be discharged.
    pub temperature_max: Option<Rated<Temperature>>,
    /// Diameter.
    pub diameter: Option<Rated<Length>>,
    /// Length.
    pub length: Option<Rated<Length>>,
    /// Heat capacity of the whole cell.
    pub heat_capacity: Option<Rated<HeatCapacity>>,
    /// Heat conductance from the cell to the surroundings.
    pub cooling: Option<Rated<ThermalConductance>>,
}

impl CellType {
    /// Reads a cell type; faults go to the table's sink.
    pub fn read(id: &str, table: &Table<'_>) -> Option<Self> {
        let title = table
            .text("title")
            .map_or_else(|| id.to_owned(), |t| t.value);
        let capacity = need_positive(table, "capacity");
        let ocv = open_circuit(table);
        let r0 = map::<Resistance>(table, "r0").or_else(|| {
            if !table.has("r0") {
                table.missing("r0", "\"25 mΩ\"");
            }
            None
        });
        let rc = [("r1", "c1"), ("r2", "c2")]
            .iter()
            .filter_map(|(r, c)| pair(table, r, c))
            .collect();
        let cut_off = need_positive(table, "cut-off");
        let ageing_resistance = share(table, "ageing-resistance");
        let ageing_capacity = share(table, "ageing-capacity");
        if ageing_capacity.high.si() >= 1.0 {
            table.fault(
                "ageing-capacity",
                format!("`{}.ageing-capacity` must lie below 100 %", table.path()),
                "nothing would be left",
                "write the share that is lost, such as ageing-capacity = \"20 %\"",
            );
        }
        let continuous = rated_not_negative(table, "continuous-current");
        let pulse = rated_not_negative(table, "pulse-current");
        let pulse_time = rated_not_negative(table, "pulse-time");
        let keyed = table.flag("keyed").unwrap_or(false);
        let temperature_min = rated(table, "temperature-min");
        let temperature_max = rated(table, "temperature-max");
        let diameter = rated_not_negative(table, "diameter");
        let length = rated_not_negative(table, "length");
        let heat_capacity = rated_not_negative(table, "heat-capacity");
        let cooling = rated_not_negative(table, "cooling");
        // Everything has been asked for by now: what is left over is an unknown key, also when a needed
        // one is missing.
        let (ocv_soc, ocv_v, ocv_linear, ocv_source) = ocv?;
        Some(Self {
            id: id.to_owned(),
            title,
            ocv_soc,
            ocv_v,
            ocv_linear,
            ocv_source,
            rc,
            ageing_resistance,
            ageing_capacity,
            continuous,
            pulse,
            pulse_time,
            keyed,
            temperature_min,
            temperature_max,
            diameter,
            length,
            heat_capacity,
            cooling,
            capacity: capacity?,
            r0: r0?,
            cut_off: cut_off?,
        })
    }
}

fn share(table: &Table<'_>, key: &str) -> Rated<Ratio> {
    rated_not_negative(table, key).unwrap_or_else(|| Rated::exact(Ratio::from_si(0.0)))
}

fn pair(table: &Table<'_>, r: &str, c: &str) -> Option<RcPair> {
    match (table.has(r), table.has(c)) {
        (false, false) => return None,
        (true, false) => lacks_half(table, r, c, "1700 F"),
        (false, true) => lacks_half(table, c, r, "12 mΩ"),
        (true, true) => {}
    }
    let resistance = map::<Resistance>(table, r);
    let capacitance = if table.has(c) {
        need_positive(table, c)
    } else {
        None
    };
    Some(RcPair {
        resistance: resistance?,
        capacitance: capacitance?,
    })
}

/// A pair of which one half is missing is told at the half that is there.
fn lacks_half(table: &Table<'_>, there: &str, absent: &str, example: &str) {
    table.fault(
        there,
        format!("`{}` has {there} but lacks `{absent}`", table.path()),
        "half of a pair",
        format!("add {absent} = \"{example}\", or take {there} away"),
    );
}

type Curve = (Vec<f64>, Vec<f64>, bool, Option<String>);

fn open_circuit(table: &Table<'_>) -> Option<Curve> {
    if !table.has("ocv") {
        table.missing(
            "ocv",
            "{ soc = [\"0 %\", \"100 %\"], voltage = [\"3.0 V\", \"4.2 V\"] }",
        );
    }
    let inner = table.whole_table("ocv")?;
    let soc: Option<Vec<Ratio>> = inner.quantities("soc");
    let volts: Option<Vec<Voltage>> = inner.quantities("voltage");
    let linear = inner
        .choice("interpolation", &[("linear", true), ("monotone", false)])
        .unwrap_or(false);
    let source = inner
        .text("source")
        .map(|t| t.value)
        .or_else(|| table.beside("ocv", "source"));
    let _ = inner.text("condition");
    inner.finish();
    for (key, example) in [
        ("soc", "[\"0 %\", \"50 %\", \"100 %\"]"),
        ("voltage", "[\"3.0 V\", \"3.7 V\", \"4.2 V\"]"),
    ] {
        if !inner.has(key) {
            inner.missing(key, example);
        }
    }
    let soc: Vec<f64> = soc?.into_iter().map(Quantity::si).collect();
    let volts: Vec<f64> = volts?.into_iter().map(Quantity::si).collect();
    if soc.len() != volts.len() || soc.len() < 2 {
        inner.fault(
            "voltage",
            format!(
                "`{}` has {} states of charge and {} voltages",
                inner.path(),
                soc.len(),
                volts.len()
            ),
            "must pair up, two or more",
            "give one voltage for each state of charge",
        );
        return None;
    }
    let rising = |v: &[f64]| v.windows(2).all(|w| w[0] < w[1]);
    if !rising(&soc)
        || soc.first() != Some(&0.0)
        || soc.last().is_none_or(|s| (s - 1.0).abs() > 1e-12)
    {
        inner.fault(
            "soc",
            format!("`{}.soc` must rise from 0 % to 100 %", inner.path()),
            "not rising, or not from 0 % to 100 %",
            "write soc = [\"0 %\", ..., \"100 %\"]",
        );
        return None;
    }
    if volts.windows(2).any(|w| w[0] > w[1]) || volts.iter().any(|v| *v <= 0.0) {
        inner.fault(
            "voltage",
            format!(
                "`{}.voltage` must not fall as the state of charge rises",
                inner.path()
            ),
            "falls, or is not positive",
            "give rising positive voltages",
        );
        return None;
    }
    Some((soc, volts, linear, source))
}

/// Reads `key = "25 mΩ"` or `key = { temperature = [...], soc = [...], value = [[...], ...], source = "..." }`.
fn map<Q: Quantity>(table: &Table<'_>, key: &str) -> Option<Map> {
    if !table.is_table(key)
        || table
            .whole_table(key)
            .is_some_and(|t| !t.has("soc") && !t.has("temperature"))
    {
        return rated_not_negative::<Q>(table, key).map(|r| Map::constant(r.si(), r.source));
    }
    let inner = table.whole_table(key)?;
    let axis = |name: &str, values: Option<Vec<f64>>, fallback: f64| -> Option<Vec<f64>> {
        if !inner.has(name) {
            return Some(vec![fallback]);
        }
        let values = values?;
        if values.is_empty() || values.windows(2).any(|w| w[0] >= w[1]) {
            inner.fault(
                name,
                format!("`{}.{name}` must rise", inner.path()),
                "not rising",
                "list the points in rising order",
            );
            return None;
        }
        Some(values)
    };
    let to_si = |v: Vec<Temperature>| v.into_iter().map(Quantity::si).collect::<Vec<_>>();
    let temperature_k = axis(
        "temperature",
        inner.quantities::<Temperature>("temperature").map(to_si),
        298.15,
    );
    let soc = axis(
        "soc",
        inner
            .quantities::<Ratio>("soc")
            .map(|v| v.into_iter().map(Quantity::si).collect()),
        0.5,
    );
    if !inner.has("value") {
        let example = format!("[[\"{}\"]]", Q::EXAMPLE);
        inner.missing("value", &example);
    }
    let rows = inner.quantity_rows::<Q>("value");
    let source = inner
        .text("source")
        .map(|t| t.value)
        .or_else(|| table.beside(key, "source"));
    let _ = inner.text("condition");
    inner.finish();
    let (temperature_k, soc, rows) = (temperature_k?, soc?, rows?);
    let value: Vec<Vec<f64>> = rows
        .iter()
        .map(|r| r.iter().map(|q| q.si()).collect())
        .collect();
    let fits = value.len() == temperature_k.len() && value.iter().all(|r| r.len() == soc.len());
    if !fits || value.iter().flatten().any(|v| *v < 0.0) {
        let shape: Vec<String> = value.iter().map(|r| r.len().to_string()).collect();
        let message = format!(
            "`{}.value` must hold {} rows (one for each temperature) of {} values (one for each state of charge), none negative",
            inner.path(),
            temperature_k.len(),
            soc.len()
        );
        let label = format!("rows here: {}, of {} values", value.len(), shape.join(", "));
        inner.fault("value", message, label, "write value = [[\"30 mΩ\", \"25 mΩ\"], [\"20 mΩ\", \"15 mΩ\"]] for two temperatures and two states of charge");
        return None;
    }
    Some(Map {
        temperature_k,
        soc,
        value,
        source,
    })
}

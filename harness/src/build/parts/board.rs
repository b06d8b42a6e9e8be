//! The controller board: regulator, logic, memory card, sound, data outputs.

use crate::build::rated::{need_positive, rated_not_negative, Rated};
use crate::build::reader::Table;
use crate::units::{Capacitance, Current, Frequency, Power, Quantity, Ratio, Voltage};

/// How the board makes its logic rail.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RegulatorKind {
    /// Input current equals output current; the rail sags once the input is within the dropout.
    Linear,
    /// Input power is output power over efficiency.
    Switching,
    /// The logic runs straight from the supply.
    Direct,
}

/// What a USB lead on the board's own socket feeds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UsbPath {
    /// Its 5 V lie straight on the board's supply terminal.
    Direct,
    /// Its 5 V reach the supply terminal through a diode: the cell cannot feed back.
    Diode,
    /// It feeds a charger for the cell at the supply terminal.
    Charger,
}

/// The processor core that renders, of those whose cost was counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoreKind {
    /// Arm Cortex-M0.
    CortexM0,
    /// Arm Cortex-M0+: as M0, with taken branches a cycle shorter.
    CortexM0Plus,
    /// Arm Cortex-M3.
    CortexM3,
    /// Arm Cortex-M4, with or without floating point.
    CortexM4,
}

impl CoreKind {
    /// Every kind by its word in build files.
    pub const WORDS: [(&'static str, CoreKind); 4] = [
        ("cortex-m0", CoreKind::CortexM0),
        ("cortex-m0-plus", CoreKind::CortexM0Plus),
        ("cortex-m3", CoreKind::CortexM3),
        ("cortex-m4", CoreKind::CortexM4),
    ];

    /// What a person calls it.
    pub fn title(self) -> &'static str {
        match self {
            CoreKind::CortexM0 => "Cortex-M0",
            CoreKind::CortexM0Plus => "Cortex-M0+",
            CoreKind::CortexM3 => "Cortex-M3",
            CoreKind::CortexM4 => "Cortex-M4",
        }
    }
}

/// The processor core that renders, and its clock.
#[derive(Debug, Clone, PartialEq)]
pub struct Core {
    /// Which core.
    pub kind: CoreKind,
    /// Its clock.
    pub clock: Rated<Frequency>,
}

/// The logic supply of a board.
#[derive(Debug, Clone, PartialEq)]
pub struct Regulator {
    /// Kind of regulator.
    pub kind: RegulatorKind,
    /// Output voltage in regulation.
    pub output: Rated<Voltage>,
    /// Dropout against output current: amperes, volts, rising. A single point is a resistance-like line through zero.
    pub dropout: Vec<(f64, f64)>,
    /// Efficiency of a switching regulator.
    pub efficiency: Rated<Ratio>,
    /// Supply below which a switching regulator stops.
    pub input_min: Option<Rated<Voltage>>,
    /// Current it takes for itself.
    pub quiescent: Rated<Current>,
}

/// The sound amplifier, supplied straight from the board's input.
#[derive(Debug, Clone, PartialEq)]
pub struct Amplifier {
    /// Electrical output power at full level.
    pub power: Rated<Power>,
    /// Output power over input power.
    pub efficiency: Rated<Ratio>,
    /// Supply below which it switches itself off.
    pub supply_min: Option<Rated<Voltage>>,
    /// Current with no sound.
    pub idle: Rated<Current>,
}

/// Everything known of a board.
#[derive(Debug, Clone, PartialEq)]
pub struct Board {
    /// Catalogue id, or the name of the part that defines it.
    pub id: String,
    /// What a person calls it.
    pub title: String,
    /// Logic supply.
    pub regulator: Regulator,
    /// Current of processor and sensors from the rail.
    pub logic: Rated<Current>,
    /// Current of the memory card while it is read, from the rail.
    pub card: Option<Rated<Current>>,
    /// Lowest rail at which the card works.
    pub card_min: Option<Rated<Voltage>>,
    /// Rail at which the processor is reset.
    pub reset_level: Option<Rated<Voltage>>,
    /// Capacitance on the rail.
    pub rail_capacitance: Option<Rated<Capacitance>>,
    /// Sound.
    pub amplifier: Option<Amplifier>,
    /// High level of a data output as a share of the rail.
    pub data_high: Rated<Ratio>,
    /// Number of data outputs.
    pub outputs: u8,
    /// The core that renders, and its clock; `None` where nothing is stated.
    pub core: Option<Core>,
    /// What a USB lead on its own socket feeds; `None` where it has none, or nothing is known.
    pub usb: Option<UsbPath>,
    /// Lowest supply the board allows at its input.
    pub supply_min: Option<Rated<Voltage>>,
    /// Highest supply the board allows at its input.
    pub supply_max: Option<Rated<Voltage>>,
}

impl Board {
    /// Reads a board; faults go to the table's sink.
    pub fn read(id: &str, table: &Table<'_>) -> Option<Self> {
        let title = table
            .text("title")
            .map_or_else(|| id.to_owned(), |t| t.value);
        let regulator = regulator(table);
        let logic = rated_not_negative(table, "logic-current");
        if logic.is_none() && !table.has("logic-current") {
            table.missing("logic-current", "\"40 mA\"");
        }
        Some(Self {
            id: id.to_owned(),
            title,
            card: rated_not_negative(table, "card-current"),
            card_min: rated_not_negative(table, "card-min"),
            reset_level: rated_not_negative(table, "reset-level"),
            rail_capacitance: rated_not_negative(table, "rail-capacitance"),
            amplifier: amplifier(table),
            data_high: rated_not_negative(table, "data-high")
                .unwrap_or_else(|| Rated::exact(Ratio::from_si(1.0))),
            outputs: table.integer("outputs", 1..=16).unwrap_or(1) as u8,
            core: core(table),
            usb: table.choice(
                "usb",
                &[
                    ("direct", UsbPath::Direct),
                    ("diode", UsbPath::Diode),
                    ("charger", UsbPath::Charger),
                ],
            ),
            supply_min: rated_not_negative(table, "supply-min"),
            supply_max: rated_not_negative(table, "supply-max"),
            regulator: regulator?,
            logic: logic?,
        })
    }
}

/// Core and clock: one without the other says nothing about time.
fn core(table: &Table<'_>) -> Option<Core> {
    let kind = table.choice("core", &CoreKind::WORDS);
    let clock = table
        .has("clock")
        .then(|| need_positive::<Frequency>(table, "clock"));
    match (table.has("core"), &clock) {
        (true, None) => table.missing("clock", "\"48 MHz\""),
        (false, Some(_)) => table.missing("core", "\"cortex-m4\""),
        _ => {}
    }
    Some(Core {
        kind: kind?,
        clock: clock??,
    })
}

fn regulator(table: &Table<'_>) -> Option<Regulator> {
    if !table.has("regulator") {
        table.missing("regulator", "{ kind = \"linear\", output = \"3.3 V\", dropout = \"250 mV\", dropout-current = \"600 mA\" }");
    }
    let inner = table.table("regulator")?;
    let kinds = [
        ("linear", RegulatorKind::Linear),
        ("switching", RegulatorKind::Switching),
        ("direct", RegulatorKind::Direct),
    ];
    if !inner.has("kind") {
        inner.missing("kind", "\"linear\"");
    }
    let kind = inner.choice("kind", &kinds);
    let output = match kind {
        Some(RegulatorKind::Direct) => Some(
            rated_not_negative(&inner, "output")
                .unwrap_or_else(|| Rated::exact(Voltage::from_si(1e3))),
        ),
        _ => need_positive(&inner, "output"),
    };
    if kind == Some(RegulatorKind::Linear) && !inner.has("dropout") {
        // Without it the rail would hold down to an empty cell: no check may pass for lack of a figure.
        inner.missing("dropout", "\"250 mV\"");
    }
    let dropout = dropout(&inner);
    let efficiency = rated_not_negative::<Ratio>(&inner, "efficiency");
    if let Some(e) = &efficiency {
        if e.low.si() <= 0.0 || e.high.si() > 1.0 {
            efficiency_fault(&inner);
        }
    } else if kind == Some(RegulatorKind::Switching) && !inner.has("efficiency") {
        inner.missing("efficiency", "\"90 %\"");
    }
    let input_min = rated_not_negative(&inner, "input-min");
    let quiescent = rated_not_negative(&inner, "quiescent")
        .unwrap_or_else(|| Rated::exact(Current::from_si(0.0)));
    inner.finish();
    Some(Regulator {
        kind: kind?,
        output: output?,
        dropout,
        efficiency: efficiency.unwrap_or_else(|| Rated::exact(Ratio::from_si(1.0))),
        input_min,
        quiescent,
    })
}

/// Dropout over output current. The high end of a figure is the cautious one and is taken.
fn dropout(inner: &Table<'_>) -> Vec<(f64, f64)> {
    if inner.is_list("dropout") || inner.is_list("dropout-current") {
        return dropout_curve(inner);
    }
    let volts = rated_not_negative::<Voltage>(inner, "dropout");
    if !inner.has("dropout-current") {
        // One figure for every current.
        return volts.map_or_else(Vec::new, |v| vec![(0.0, v.high.si())]);
    }
    let amps = need_positive::<Current>(inner, "dropout-current");
    if !inner.has("dropout") {
        inner.fault(
            "dropout-current",
            format!("`{}` has dropout-current but lacks `dropout`", inner.path()),
            "half of a pair",
            "add dropout = \"250 mV\", or take dropout-current away",
        );
    }
    match (volts, amps) {
        (Some(v), Some(a)) => vec![(0.0, 0.0), (a.si(), v.high.si())],
        _ => Vec::new(),
    }
}

fn dropout_curve(inner: &Table<'_>) -> Vec<(f64, f64)> {
    let volts: Option<Vec<Voltage>> = inner.quantities("dropout");
    let amps: Option<Vec<Current>> = inner.quantities("dropout-current");
    let example =
        "write dropout = [\"50 mV\", \"250 mV\"] and dropout-current = [\"100 mA\", \"600 mA\"]";
    for key in ["dropout", "dropout-current"] {
        if !inner.has(key) {
            inner.missing(key, "[...], one entry for each of the other list");
        }
    }
    let (Some(volts), Some(amps)) = (volts, amps) else {
        return Vec::new();
    };
    let negative = volts.iter().any(|v| v.si() < 0.0) || amps.iter().any(|a| a.si() < 0.0);
    let rising = amps.windows(2).all(|w| w[0].si() < w[1].si());
    if volts.len() != amps.len() || !rising || negative {
        inner.fault(
            inner.own_key(&["dropout", "dropout-current"]),
            format!(
                "`{}.dropout` and `dropout-current` must pair up, currents rising, none negative",
                inner.path()
            ),
            format!("{} voltages, {} currents", volts.len(), amps.len()),
            example,
        );
        return Vec::new();
    }
    amps.into_iter()
        .zip(volts)
        .map(|(a, v)| (a.si(), v.si()))
        .collect()
}

fn amplifier(table: &Table<'_>) -> Option<Amplifier> {
    let inner = table.table("amplifier")?;
    let power = need_positive(&inner, "power");
    let efficiency = need_positive::<Ratio>(&inner, "efficiency");
    if efficiency.as_ref().is_some_and(|e| e.high.si() > 1.0) {
        efficiency_fault(&inner);
    }
    let supply_min = rated_not_negative(&inner, "supply-min");
    let idle =
        rated_not_negative(&inner, "idle").unwrap_or_else(|| Rated::exact(Current::from_si(0.0)));
    inner.finish();
    Some(Amplifier {
        power: power?,
        efficiency: efficiency?,
        supply_min,
        idle,
    })
}

fn efficiency_fault(inner: &Table<'_>) {
    inner.fault(
        "efficiency",
        format!(
            "`{}.efficiency` must lie above 0 % and up to 100 %",
            inner.path()
        ),
        "out of range",
        "write efficiency = \"90 %\"",
    );
}

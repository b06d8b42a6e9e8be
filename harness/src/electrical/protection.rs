//! Cell protection: at which current it trips.

/// Current at which a protection circuit trips that senses the voltage over its switch:
/// over-current threshold over the resistance sensed (both transistors of the usual pair).
///
/// `I = V / R`; not a number for a resistance of 0. Source: application notes of protection ICs.
pub fn trip_current_a(threshold_v: f64, sensed_ohm: f64) -> f64 {
    threshold_v / sensed_ohm
}

#[cfg(test)]
mod tests {
    use super::*;

    // DW01A over-current 150 mV with two FS8205A of 28 mΩ (data sheets).
    #[test]
    fn usual_pair() {
        assert!((trip_current_a(0.150, 2.0 * 0.028) - 2.679).abs() < 1e-3);
    }
}

//! The few statistics that a sweep needs.

/// 97.5 % quantile of the normal distribution: two-sided 95 %.
const Z95: f64 = 1.959_963_984_540_054;

/// Wilson's 95 % score interval of a share (Wilson, J. Am. Stat. Assoc. 22, 1927). A stratified design
/// scatters less than independent draws, so the interval is on the safe side.
pub fn wilson(hits: u64, of: u64) -> (f64, f64) {
    if of == 0 {
        return (0.0, 1.0);
    }
    let (n, p) = (of as f64, hits as f64 / of as f64);
    let z2 = Z95 * Z95;
    let centre = (p + z2 / (2.0 * n)) / (1.0 + z2 / n);
    let half = Z95 * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).sqrt() / (1.0 + z2 / n);
    ((centre - half).max(0.0), (centre + half).min(1.0))
}

/// The value that a share `q` of all values lies at or below (nearest rank); `None` without values.
pub fn quantile(values: &[f64], q: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let rank = (q * sorted.len() as f64).ceil().max(1.0) as usize;
    sorted.get(rank - 1).copied()
}

/// Ranks from 0, ties at their mean rank.
fn ranks(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|a, b| values[*a].total_cmp(&values[*b]));
    let mut out = vec![0.0; values.len()];
    let mut from = 0;
    while from < order.len() {
        let mut to = from + 1;
        while to < order.len() && values[order[to]] == values[order[from]] {
            to += 1;
        }
        let mean = (from + to - 1) as f64 / 2.0;
        order[from..to].iter().for_each(|i| out[*i] = mean);
        from = to;
    }
    out
}

/// Spearman's rank correlation of two equally long lists; 0 where one does not vary.
pub fn rank_correlation(a: &[f64], b: &[f64]) -> f64 {
    let (a, b) = (ranks(a), ranks(b));
    let mean = (a.len() as f64 - 1.0) / 2.0;
    let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (x, y) in a.iter().zip(&b) {
        ab += (x - mean) * (y - mean);
        aa += (x - mean).powi(2);
        bb += (y - mean).powi(2);
    }
    if aa > 0.0 && bb > 0.0 {
        ab / (aa * bb).sqrt()
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Newcombe, Stat. Med. 17, 1998, Wilson's interval: 81 of 263 gives 0.2553 to 0.3662, 0 of 20 gives
    // 0 to 0.1611.
    #[test]
    fn wilson_meets_the_published_example() {
        let (low, high) = wilson(81, 263);
        assert!((low - 0.2553).abs() < 5e-5 && (high - 0.3662).abs() < 5e-5);
        let (low, high) = wilson(0, 20);
        assert!(low == 0.0 && (high - 0.1611).abs() < 5e-5);
    }

    #[test]
    fn correlation_sees_order_only_and_shares_ties() {
        let x = [1.0, 2.0, 3.0, 4.0];
        assert_eq!(rank_correlation(&x, &[1.0, 10.0, 100.0, 1e9]), 1.0);
        assert_eq!(rank_correlation(&x, &[4.0, 3.0, 2.0, -f64::INFINITY]), -1.0);
        assert_eq!(rank_correlation(&x, &[7.0; 4]), 0.0);
        // Ranks 0, 1.5, 1.5, 3 against 0, 1, 2, 3: 4.5/√(4.5·5).
        let tied = rank_correlation(&[1.0, 2.0, 2.0, 3.0], &x);
        assert!((tied - 0.948_683).abs() < 1e-6);
    }

    #[test]
    fn quantiles_are_values_of_the_list() {
        let v = [3.0, 1.0, 2.0, 4.0];
        assert_eq!(quantile(&v, 0.25), Some(1.0));
        assert_eq!(quantile(&v, 0.26), Some(2.0));
        assert_eq!(quantile(&v, 1.0), Some(4.0));
        assert_eq!(quantile(&[], 0.5), None);
    }
}

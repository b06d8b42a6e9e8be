//! The limiter's budget against every smaller one.

use crate::props::{failing, flicker, small, Frames};
use lampwright::study::limit::{find_budget, Estimate, STEP_A};

#[test]
fn a_limiter_holds_at_its_budget_and_every_smaller_one_and_fails_one_step_above() {
    let built = small(14, 12.0, 900.0, 60.0, 0.22, 20);
    let trace = flicker(14, 240);
    let found = find_budget(&built, &[&trace], &|_, _| {}).unwrap();
    assert!(
        found.budget_a < found.largest_estimate_a - STEP_A,
        "{found:?}"
    );
    let estimate = Estimate::of(&built);
    let shown = |frames: Vec<Vec<u8>>| Frames {
        pixels: 14,
        rate_hz: trace.rate_hz,
        frames,
    };
    // What flows with every pixel dark is not the limiter's to take away.
    let dark_a = estimate.current_a(&[0; 14 * 3]);
    let at = |budget_a: f64| {
        // The board's limiter, which lets go slowly: what it does depends on the frames before.
        let mut limiter = estimate.limiter(budget_a);
        let dim = |(n, f): (usize, &Vec<u8>)| {
            let mut f = f.clone();
            let ms = (n as f64 * 1e3 / trace.rate_hz).round() as u32;
            limiter.apply(lampwright_model::Millis(ms), &mut f);
            assert!(
                estimate.current_a(&f) <= budget_a.max(dark_a),
                "never above its budget"
            );
            f
        };
        let limited = shown(trace.frames.iter().enumerate().map(dim).collect());
        failing(&built, &limited, 255)
    };
    // What the dimmest setting leaves failing is not the limiter's to mend.
    let always = failing(&built, &trace, 1);
    let holds = |budget_a: f64| at(budget_a).iter().all(|f| always.contains(f));
    let steps = (found.budget_a / STEP_A).round() as u32;
    assert!(steps > 5, "{found:?}");
    assert!((0..=steps).all(|k| holds(f64::from(k) * STEP_A)));
    assert!(!holds(found.budget_a + STEP_A));
    assert!(found.light[0].unwrap().luminous_share < 1.0);
}

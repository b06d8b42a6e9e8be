//! More drive and more copper: where they can only do what a builder expects, and where not.
//!
//! | change | never | holds for |
//! |---|---|---|
//! | more drive anywhere | raises a supply | radial and mirrored networks, whatever is starved; any network without loads of resistance while all draws its full current |
//! | less resistance in the cell | lowers a supply | radial and mirrored networks, whatever is starved |
//! | less resistance anywhere | lowers a supply | radial networks while all draws its full current |
//! | a wire more, or less resistance | lowers the power that arrives | any network of constant currents |
//!
//! *Radial*: out and return are the same tree. *Mirrored*: any mesh, the return the same graph as the way out with all
//! resistances in one proportion, each strip fed on both rails at the same pixels. In both, out and return can be added
//! up to one resistive graph whose conductances form an M-matrix, with loads that draw no less at a higher supply: such
//! a system is monotone. Outside these classes the sentences are false, and the last tests of this file hold an example
//! of each.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod circuits;

use circuits::random::{circuit, drives, ohm, supplies, Circuit};
use circuits::{cases, feed_pair, rgb_pixel};
use lampwright::electrical::{Drive, Feed, LoadLaw, Network, Rail, Solver, StripSpec};
use proptest::prelude::*;

/// A radial network: both sides are the same tree, with a pair of wires for each branch, and all that
/// draws current sits across a pair. Out and return current of a pair are then equal.
fn radial() -> impl Strategy<Value = Circuit> {
    (circuit(), proptest::collection::vec(ohm(), 8)).prop_map(|(mut c, back)| {
        c.neg = c
            .pos
            .iter()
            .zip(back)
            .map(|(out, ohm)| (out.0, ohm))
            .collect();
        c.meshes.clear();
        c.resistors.clear();
        c.powers.clear();
        for sink in &mut c.sinks {
            sink.1 = sink.0;
        }
        for strip in &mut c.strips {
            let (at, node) = (strip.feeds[0].1, strip.feeds[0].2);
            strip.feeds = vec![(true, at, node, 0.01), (false, at, node, 0.01)];
        }
        c
    })
}

/// A mirrored network: see the top of this file.
fn mirrored() -> impl Strategy<Value = Circuit> {
    (circuit(), 0.1..10.0).prop_map(|(mut c, share)| {
        let back = |ohm: f64| ohm * share;
        c.neg = c
            .pos
            .iter()
            .map(|(from, ohm)| (*from, back(*ohm)))
            .collect();
        let twins: Vec<_> = (c.meshes.iter())
            .flat_map(|m| [(true, m.1, m.2, m.3), (false, m.1, m.2, back(m.3))])
            .collect();
        c.meshes = twins;
        c.resistors.clear();
        c.powers.clear();
        for sink in &mut c.sinks {
            sink.1 = sink.0;
        }
        for strip in &mut c.strips {
            strip.rails_ohm.1 = back(strip.rails_ohm.0);
            let pairs = (strip.feeds.iter().filter(|f| f.0))
                .flat_map(|f| [*f, (false, f.1, f.2, back(f.3))])
                .collect();
            strip.feeds = pairs;
        }
        c
    })
}

fn radial_or_mirrored() -> impl Strategy<Value = Circuit> {
    prop_oneof![radial(), mirrored()]
}

/// More drive of one channel, and what the supplies are before and after.
fn driven_more(
    c: &Circuit,
    strip: prop::sample::Index,
    pixel: prop::sample::Index,
    more: u8,
) -> [Vec<f64>; 2] {
    let network = c.build().unwrap();
    let mut levels = c.levels();
    let before = supplies(&network, &levels, &[]).unwrap();
    let strip = strip.index(levels.len());
    let at = pixel.index(levels[strip].len());
    levels[strip][at] = levels[strip][at].saturating_add(more);
    [before, supplies(&network, &levels, &[]).unwrap()]
}

#[test]
fn more_drive_never_raises_a_supply() {
    proptest!(cases(400), |(
        c in radial_or_mirrored(), strip in any::<prop::sample::Index>(), pixel in any::<prop::sample::Index>(),
        more in 1u8..,
    )| {
        prop_assume!(!c.strips.is_empty());
        let [before, after] = driven_more(&c, strip, pixel, more);
        for (a, b) in before.iter().zip(&after) {
            prop_assert!(*b <= a + 1e-10, "{a} -> {b}");
        }
    });
}

/// Any mesh, crossed feeds included: with constant currents the supplies are `open − Z·I`, and no element of `Z` is
/// negative as long as nothing but draws joins the two sides.
#[test]
fn more_drive_never_raises_a_supply_while_all_draw_their_full_current() {
    let compared = std::cell::Cell::new(0);
    proptest!(cases(400), |(
        mut c in circuit(), strip in any::<prop::sample::Index>(), pixel in any::<prop::sample::Index>(),
        more in 1u8..,
    )| {
        prop_assume!(!c.strips.is_empty());
        c.powers.clear();
        c.resistors.clear();
        c.emf_v = 200.0;
        let [before, after] = driven_more(&c, strip, pixel, more);
        if before.iter().chain(&after).any(|v| *v < 3.3) {
            return Ok(());
        }
        compared.set(compared.get() + 1);
        for (a, b) in before.iter().zip(&after) {
            prop_assert!(*b <= a + 1e-10, "{a} -> {b}");
        }
    });
    let compared = compared.get();
    assert!(
        compared > 100,
        "only {compared} networks drew their full current"
    );
}

/// Less resistance in front of everything.
#[test]
fn a_better_cell_never_lowers_a_supply() {
    proptest!(cases(400), |(c in radial_or_mirrored(), share in 0.0..1.0)| {
        let better = Circuit { cell_ohm: c.cell_ohm * share, ..c.clone() };
        let before = supplies(&c.build().unwrap(), &c.levels(), &[]).unwrap();
        let after = supplies(&better.build().unwrap(), &c.levels(), &[]).unwrap();
        for (a, b) in before.iter().zip(&after) {
            prop_assert!(*b >= a - 1e-10, "{a} -> {b}");
        }
    });
}

/// More copper (a smaller resistance anywhere) never lowers a supply of a radial network in which
/// everything draws its full current. (Below that, what gains supply draws more, and takes it from
/// what hangs on the same wires.)
#[test]
fn more_copper_never_lowers_a_supply_of_a_radial_network() {
    let compared = std::cell::Cell::new(0);
    proptest!(cases(300), |(
        mut c in radial(), which in any::<prop::sample::Index>(), share in 0.0..1.0,
    )| {
        c.emf_v = 200.0;
        let before = supplies(&c.build().unwrap(), &c.levels(), &[]).unwrap();
        // Dark loads and starved pixels would not draw their full current.
        if before.iter().any(|v| *v < 3.3) {
            return Ok(());
        }
        compared.set(compared.get() + 1);
        let mut better = c.clone();
        let wires = c.pos.len() + c.neg.len();
        let k = which.index(wires + c.strips.len());
        if k < c.pos.len() {
            better.pos[k].1 *= share;
        } else if k < wires {
            better.neg[k - c.pos.len()].1 *= share;
        } else {
            better.strips[k - wires].rails_ohm.0 *= share;
        }
        let after = supplies(&better.build().unwrap(), &c.levels(), &[]).unwrap();
        for (a, b) in before.iter().zip(&after) {
            prop_assert!(*b >= a - 1e-10, "{a} -> {b}");
        }
    });
    let compared = compared.get();
    assert!(
        compared > 100,
        "only {compared} networks drew their full current"
    );
}

/// In a meshed network one supply may fall when a wire is added (it now shares with another), but
/// for constant currents the power that arrives at the loads, Σ I·V, never falls (Rayleigh's
/// monotonicity law).
#[test]
fn more_copper_never_lowers_the_power_that_arrives() {
    let compared = std::cell::Cell::new(0);
    proptest!(cases(300), |(
        mut c in circuit(), side in any::<bool>(), a in 0usize..8, b in 0usize..8, ohm in ohm(),
    )| {
        c.powers.clear();
        c.resistors.clear();
        c.emf_v = 60.0;
        let mut better = c.clone();
        better.meshes.push((side, a, b, ohm));
        let mut power = [0.0; 2];
        for (c, power) in [&c, &better].into_iter().zip(&mut power) {
            let network = c.build().unwrap();
            let mut solver = Solver::new(&network).unwrap();
            let levels = c.levels();
            let strips = drives(&levels);
            let s = solver.solve(&Drive { strips: &strips, loads: &[], sources: &[] }).unwrap();
            for id in network.strip_ids() {
                if s.strip(id).min_supply_v < 3.3 {
                    return Ok(());
                }
                let strip = s.strip(id);
                *power += strip.supply_v.iter().zip(&strip.current_a).map(|(v, i)| v * i).sum::<f64>();
            }
            if network.load_ids().any(|l| s.load_v(l) < 0.1) {
                return Ok(());
            }
            *power += network.load_ids().map(|l| s.load_v(l) * s.load_a(l)).sum::<f64>();
        }
        compared.set(compared.get() + 1);
        prop_assert!(power[1] >= power[0] - 1e-9, "{power:?}");
    });
    let compared = compared.get();
    assert!(
        compared > 100,
        "only {compared} networks drew constant currents"
    );
}

/// Positive rail fed at the left, negative at the right, the middle pixel held stiffly by its ramp:
/// drive at the left end shifts the middle's currents so that the right end gains. The solver must
/// show it (a law that is not one must not be assumed anywhere).
#[test]
fn crossed_feeds_can_raise_a_supply() {
    let mut b = Network::builder();
    let (plus, minus) = (b.node("plus"), b.node("minus"));
    b.source("cell", plus, minus, 3.0, 0.0);
    let feed = |rail, pixel, node| Feed {
        rail,
        pixel,
        node,
        ohm: 0.0,
    };
    b.strip(StripSpec {
        name: "crossed".to_owned(),
        law: rgb_pixel(),
        pixels: 101,
        rail_pos_ohm: 0.05,
        rail_neg_ohm: 0.05,
        feeds: vec![
            feed(Rail::Positive, 0, plus),
            feed(Rail::Negative, 100, minus),
        ],
    });
    let network = b.build().unwrap();
    let mut levels = vec![vec![0u8; 303]];
    levels[0][45 * 3..56 * 3].fill(255);
    let before = supplies(&network, &levels, &[]).unwrap();
    levels[0][3..15].fill(255);
    let after = supplies(&network, &levels, &[]).unwrap();
    assert!(after[1] < before[1], "the driven end falls");
    assert!(
        after[99] > before[99] + 1e-6,
        "the far end rises: {} -> {}",
        before[99],
        after[99]
    );
}

/// Full current, but a mesh: a good and a bad lead to two loads. Joining the loads by a wire helps the one on the bad
/// lead and costs the other, since both now share the good lead.
#[test]
fn a_wire_more_can_lower_a_supply_in_a_mesh() {
    let solve = |joined: bool| {
        let mut b = Network::builder();
        let (plus, minus) = (b.node("plus"), b.node("minus"));
        let (good, bad) = (b.node("good"), b.node("bad"));
        b.source("cell", plus, minus, 3.7, 0.05);
        b.resistor("good lead", plus, good, 0.05);
        b.resistor("bad lead", plus, bad, 0.5);
        b.load("light", good, minus, LoadLaw::SINK, 0.1);
        b.load("heavy", bad, minus, LoadLaw::SINK, 1.0);
        if joined {
            b.resistor("wire", good, bad, 0.02);
        }
        supplies(&b.build().unwrap(), &[], &[]).unwrap()
    };
    let (before, after) = (solve(false), solve(true));
    assert!(
        after[1] > before[1] + 0.1,
        "the heavy load gains: {before:?} -> {after:?}"
    );
    assert!(
        after[0] < before[0] - 0.03,
        "the light load loses: {before:?} -> {after:?}"
    );
}

/// Radial, but starved: a better lead to one strip lets it draw more through the common trunk, and the other one loses.
/// The trunk carries more as well: a margin of *current* may fall with more copper wherever something is starved.
#[test]
fn a_better_lead_can_lower_the_supply_of_a_starved_neighbour() {
    let solve = |lead_ohm: f64| {
        let mut b = Network::builder();
        let (plus, minus) = (b.node("plus"), b.node("minus"));
        let (trunk, end) = (b.node("trunk"), b.node("end"));
        b.source("cell", plus, minus, 3.5, 0.05);
        b.resistor("trunk", plus, trunk, 0.3);
        b.resistor("lead", trunk, end, lead_ohm);
        for (name, node) in [("far", end), ("near", trunk)] {
            b.strip(StripSpec {
                name: name.to_owned(),
                law: rgb_pixel(),
                pixels: 30,
                rail_pos_ohm: 0.005,
                rail_neg_ohm: 0.005,
                feeds: feed_pair(0, node, minus, 0.01, 0.01).to_vec(),
            });
        }
        supplies(&b.build().unwrap(), &[vec![255; 90], vec![255; 90]], &[]).unwrap()
    };
    let (before, after) = (solve(2.0), solve(0.1));
    assert!(
        after[0] > before[0] + 0.05,
        "the strip on the better lead gains: {} -> {}",
        before[0],
        after[0]
    );
    assert!(
        after[30] < before[30] - 0.01,
        "its neighbour loses: {} -> {}",
        before[30],
        after[30]
    );
}

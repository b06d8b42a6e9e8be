//! Random networks.

use super::rgb_pixel;
use lampwright::electrical::{
    Drive, Feed, LoadLaw, Network, NetworkError, PixelLaw, Rail, SolveError, Solver, StripDrive,
    StripSpec,
};
use proptest::prelude::*;

/// A strip of a random network.
#[derive(Debug, Clone)]
pub(crate) struct Strip {
    pub(crate) pixels: usize,
    pub(crate) rails_ohm: (f64, f64),
    /// Rail, place as a share of the length, node, resistance.
    pub(crate) feeds: Vec<(bool, f64, usize, f64)>,
    pub(crate) levels: Vec<u8>,
}

/// A random network: a tree of wires on each side of the cell, wires across the trees, loads and
/// strips between the sides.
#[derive(Debug, Clone)]
pub(crate) struct Circuit {
    pub(crate) emf_v: f64,
    pub(crate) cell_ohm: f64,
    /// Node k+1 of a side hangs on an earlier node by this resistance.
    pub(crate) pos: Vec<(usize, f64)>,
    pub(crate) neg: Vec<(usize, f64)>,
    /// More wires within a side: side, node, node, resistance.
    pub(crate) meshes: Vec<(bool, usize, usize, f64)>,
    /// Resistive loads: nodes, resistance.
    pub(crate) resistors: Vec<(usize, usize, f64)>,
    /// Constant current: nodes, ampere. Constant power: nodes, watt.
    pub(crate) sinks: Vec<(usize, usize, f64)>,
    pub(crate) powers: Vec<(usize, usize, f64)>,
    pub(crate) strips: Vec<Strip>,
    /// A wire of the trees that is left out: side, place.
    pub(crate) open: Option<(bool, usize)>,
}

/// Resistances over nine decades, and now and then none.
pub(crate) fn ohm() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => (-3.0..-0.5).prop_map(|e: f64| 10f64.powf(e)),
        2 => (-6.0..3.0).prop_map(|e: f64| 10f64.powf(e)),
        1 => Just(0.0),
    ]
}

/// Resistances of ordinary wires and contacts.
pub(crate) fn wire_ohm() -> impl Strategy<Value = f64> {
    (-3.0..-0.7).prop_map(|e: f64| 10f64.powf(e))
}

pub(crate) fn strip(crossed: bool) -> impl Strategy<Value = Strip> {
    let feed = move |positive| {
        (
            0.0..1.0,
            0usize..8,
            prop_oneof![3 => wire_ohm(), 1 => Just(0.0)],
        )
            .prop_map(move |(at, node, ohm)| (positive, at, node, ohm))
    };
    let feeds = prop_oneof![
        (feed(true), feed(false)).prop_map(|(p, n)| vec![p, (false, p.1, n.2, n.3)]),
        (
            proptest::collection::vec(feed(true), 1..4),
            proptest::collection::vec(feed(false), 1..4)
        )
            .prop_map(move |(p, n)| if crossed {
                [p, n].concat()
            } else {
                let both = |f: &(bool, f64, usize, f64)| [*f, (false, f.1, f.2, f.3)];
                p.iter().flat_map(both).collect()
            }),
    ];
    (1usize..60, 1e-4..0.05, 1e-4..0.05, feeds).prop_flat_map(|(pixels, rp, rn, feeds)| {
        let level = prop_oneof![1 => Just(0u8), 2 => any::<u8>(), 1 => Just(255u8)];
        proptest::collection::vec(level, pixels * 3).prop_map(move |levels| Strip {
            pixels,
            rails_ohm: (rp, rn),
            feeds: feeds.clone(),
            levels,
        })
    })
}

pub(crate) fn circuit() -> impl Strategy<Value = Circuit> {
    let side = || proptest::collection::vec((0usize..8, ohm()), 1..6);
    let meshes = proptest::collection::vec((any::<bool>(), 0usize..8, 0usize..8, ohm()), 0..4);
    let pair = || (0usize..8, 0usize..8);
    let resistors = proptest::collection::vec((pair(), 1.0..1e6), 0..3);
    let sinks = proptest::collection::vec((pair(), 0.0..0.3), 0..3);
    let powers = proptest::collection::vec((pair(), 0.0..0.5), 0..2);
    let strips = proptest::collection::vec(strip(true), 0..4);
    let join = |v: Vec<((usize, usize), f64)>| v.into_iter().map(|((a, b), x)| (a, b, x)).collect();
    (
        (2.5..4.3, 0.005..0.3),
        side(),
        side(),
        meshes,
        resistors,
        sinks,
        powers,
        strips,
    )
        .prop_map(
            move |((emf_v, cell_ohm), pos, neg, meshes, resistors, sinks, powers, strips)| {
                Circuit {
                    emf_v,
                    cell_ohm,
                    pos,
                    neg,
                    meshes,
                    resistors: join(resistors),
                    sinks: join(sinks),
                    powers: join(powers),
                    strips,
                    open: None,
                }
            },
        )
}

/// Networks of which a third asks for more power than most can give.
pub(crate) fn hungry() -> impl Strategy<Value = Circuit> {
    let power = (0usize..8, 0usize..8, 1.0..60.0);
    let more = prop_oneof![
        2 => Just(vec![]),
        1 => proptest::collection::vec(power, 1..3),
    ];
    (circuit(), more).prop_map(|(mut c, more)| {
        c.powers.extend(more);
        c
    })
}

impl Circuit {
    pub(crate) fn build(&self) -> Result<Network, NetworkError> {
        self.build_with(&rgb_pixel())
    }

    pub(crate) fn build_with<L: PixelLaw + Clone>(
        &self,
        law: &L,
    ) -> Result<Network<L>, NetworkError> {
        let mut b = Network::builder();
        let mut pos = vec![b.node("p0")];
        let mut neg = vec![b.node("n0")];
        b.source("cell", pos[0], neg[0], self.emf_v, self.cell_ohm);
        for (side, name, list) in [(&mut pos, 'p', &self.pos), (&mut neg, 'n', &self.neg)] {
            for (k, (from, ohm)) in list.iter().enumerate() {
                let node = b.node(&format!("{name}{}", k + 1));
                let from = side[from % side.len()];
                if self.open != Some((name == 'p', k)) {
                    b.resistor(&format!("{name}w{k}"), from, node, *ohm);
                }
                side.push(node);
            }
        }
        for (k, (positive, a, c, ohm)) in self.meshes.iter().enumerate() {
            let side = if *positive { &pos } else { &neg };
            b.resistor(
                &format!("m{k}"),
                side[a % side.len()],
                side[c % side.len()],
                *ohm,
            );
        }
        let (p, n) = (|k: usize| pos[k % pos.len()], |k: usize| neg[k % neg.len()]);
        for (k, (a, c, ohm)) in self.resistors.iter().enumerate() {
            b.resistor(&format!("r{k}"), p(*a), n(*c), *ohm);
        }
        for (k, (a, c, amount)) in self.sinks.iter().enumerate() {
            b.load(&format!("i{k}"), p(*a), n(*c), LoadLaw::SINK, *amount);
        }
        for (k, (a, c, amount)) in self.powers.iter().enumerate() {
            let law = LoadLaw::ConstantPower { min_v: 2.0 };
            b.load(&format!("w{k}"), p(*a), n(*c), law, *amount);
        }
        for (k, strip) in self.strips.iter().enumerate() {
            let feeds = strip.feeds.iter().map(|(positive, at, node, ohm)| Feed {
                rail: if *positive {
                    Rail::Positive
                } else {
                    Rail::Negative
                },
                pixel: ((strip.pixels - 1) as f64 * at).round() as usize,
                node: if *positive { p(*node) } else { n(*node) },
                ohm: *ohm,
            });
            b.strip(StripSpec {
                name: format!("s{k}"),
                law: law.clone(),
                pixels: strip.pixels,
                rail_pos_ohm: strip.rails_ohm.0,
                rail_neg_ohm: strip.rails_ohm.1,
                feeds: feeds.collect(),
            });
        }
        b.build()
    }

    pub(crate) fn levels(&self) -> Vec<Vec<u8>> {
        self.strips.iter().map(|s| s.levels.clone()).collect()
    }
}

/// Supplies of all pixels and loads.
pub(crate) fn supplies(
    network: &Network,
    levels: &[Vec<u8>],
    loads: &[f64],
) -> Result<Vec<f64>, SolveError> {
    let mut solver = Solver::new(network).unwrap();
    let strips = drives(levels);
    let solution = solver.solve(&Drive {
        strips: &strips,
        loads,
        sources: &[],
    })?;
    let mut all: Vec<f64> = network
        .strip_ids()
        .flat_map(|s| solution.strip(s).supply_v.clone())
        .collect();
    all.extend(network.load_ids().map(|l| solution.load_v(l)));
    Ok(all)
}

pub(crate) fn drives(levels: &[Vec<u8>]) -> Vec<StripDrive<'_>> {
    levels.iter().map(|l| StripDrive::Levels(l)).collect()
}

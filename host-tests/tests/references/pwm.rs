//! Capacitors under PWM: transients to 1 % of the ripple's amplitude.

use crate::describe::{cases, floats, list, network, number, text};
use crate::statics::off;
use crate::table::{Line, Measured};
use lampwright::electrical::ripple::{seen_ohm, Piece, Smoothing};
use lampwright::electrical::transient::Periodic;
use lampwright::electrical::{Capacitor, Network, NodeId, Stretch, Transient};
use serde_json::Value;

const SHARE: f64 = 0.01;

#[test]
fn transients_are_those_of_the_circuit_simulator() {
    for line in lines() {
        line.assert();
    }
}

pub(crate) fn lines() -> Vec<Line> {
    cases("pwm.json", 8).iter().map(line).collect()
}

fn line(case: &Value) -> Line {
    let network = network(case);
    let node = |v: &Value| {
        network
            .node_ids()
            .find(|n| network.node_name(*n) == text(v))
            .unwrap()
    };
    let capacitors: Vec<Capacitor> = (list(&case["capacitors"]).iter())
        .map(|c| Capacitor {
            positive: node(&c["pos"]),
            negative: node(&c["neg"]),
            farad: number(&c["farad"]),
            esr_ohm: number(&c["esr_ohm"]),
        })
        .collect();
    // Behind the draws: what is watched, and last the cell.
    let draws = list(&case["draws"]);
    let cell = &case["cells"][0];
    let watch = list(&case["watch"]);
    let mut ports: Vec<(NodeId, NodeId)> = draws
        .iter()
        .map(|d| (node(&d["pos"]), node(&d["neg"])))
        .collect();
    ports.extend(watch.iter().map(|w| (node(&w[0]), node(&w[1]))));
    ports.push((node(&cell["pos"]), node(&cell["neg"])));
    let stretches = stretches(case, ports.len());
    let transient = Transient::new(&network, &capacitors, &ports).unwrap();
    let run = transient.periodic(&stretches).unwrap();
    let mut measured = vec![watched(case, &run, capacitors.len() + draws.len())];
    measured.extend(cell_current(case, &run));
    measured.extend(one_node(case, &network, &capacitors, &ports));
    Line::new(case, "ngspice 39, `.tran`", measured)
}

/// The stretches between all edges in the period of the case.
fn stretches(case: &Value, ports: usize) -> Vec<Stretch> {
    let period = number(&case["period_s"]);
    let draws = list(&case["draws"]);
    let on = |d: &Value, t: f64| {
        let share = (t / number(&d["period_s"]) - number(&d["delay_share"])).rem_euclid(1.0);
        share < number(&d["on_share"])
    };
    let mut edges = vec![0.0, period];
    for d in draws {
        let own = number(&d["period_s"]);
        let (delay, on) = (number(&d["delay_share"]), number(&d["on_share"]));
        for k in 0..=(period / own).round() as i32 {
            let at = |share: f64| (f64::from(k) + share - 1.0) * own;
            edges.extend([at(delay + 1.0), at(delay + on), at(delay + on + 1.0)]);
        }
    }
    edges.retain(|t| (0.0..=period).contains(t));
    edges.sort_by(f64::total_cmp);
    edges.dedup_by(|a, b| (*a - *b).abs() < 1e-12 * period);
    (edges.windows(2))
        .map(|e| {
            let middle = 0.5 * (e[0] + e[1]);
            let amp = |d: &Value| {
                if on(d, middle) {
                    number(&d["amp"])
                } else {
                    0.0
                }
            };
            let mut amps: Vec<f64> = draws.iter().map(amp).collect();
            amps.resize(ports, 0.0);
            Stretch {
                for_s: e[1] - e[0],
                amps,
            }
        })
        .collect()
}

/// Times that show every extreme: a fine grid. Edges fall between two of its points; what is lost there is far below
/// the tolerance.
fn grid(run: &Periodic<'_>) -> impl Iterator<Item = f64> + use<> {
    let period = run.period_s();
    (0..40_000).map(move |k| (f64::from(k) + 0.5) / 40_000.0 * period)
}

/// Samples and swing of every voltage watched, as a share of its swing.
fn watched(case: &Value, run: &Periodic<'_>, first: usize) -> Measured {
    let times = floats(&case["expected"]["t_s"]);
    let mut worst = 0.0_f64;
    let mut v = Vec::new();
    for (k, w) in list(&case["expected"]["watch"]).iter().enumerate() {
        let swing = number(&w["swing_v"]);
        let samples = floats(&w["v"]);
        assert_eq!(samples.len(), times.len());
        for (t, sample) in times.iter().zip(samples) {
            run.at(*t, &mut v);
            worst = worst.max(off(v[first + k], sample) / swing);
        }
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for t in grid(run) {
            run.at(t, &mut v);
            low = low.min(v[first + k]);
            high = high.max(v[first + k]);
        }
        worst = worst.max(off(high - low, swing) / swing);
    }
    Measured::share("of the ripple", worst, SHARE)
}

/// Variance and maximum of the first cell's current.
fn cell_current(case: &Value, run: &Periodic<'_>) -> [Measured; 2] {
    let cell = &case["cells"][0];
    let mut v = Vec::new();
    let amps: Vec<f64> = grid(run)
        .map(|t| {
            run.at(t, &mut v);
            (number(&cell["emf_v"]) - v.last().unwrap()) / number(&cell["ohm"])
        })
        .collect();
    let mean = amps.iter().sum::<f64>() / amps.len() as f64;
    let variance = amps.iter().map(|a| (a - mean).powi(2)).sum::<f64>() / amps.len() as f64;
    let max = amps.iter().fold(f64::NEG_INFINITY, |m, a| m.max(*a));
    let expected = &case["expected"];
    assert!(
        off(mean, number(&expected["cell_mean_a"])) < 1e-3 * mean,
        "{} mean",
        case["id"]
    );
    // The ripple of the cell's current sets the scale of its maximum.
    let scale = max - mean;
    [
        variance_of(variance, expected),
        Measured::share(
            "of the peak",
            off(max, number(&expected["cell_max_a"])) / scale,
            SHARE,
        ),
    ]
}

fn variance_of(variance: f64, expected: &Value) -> Measured {
    let reference = number(&expected["cell_variance_a2"]);
    Measured::share(
        "of the variance",
        off(variance, reference) / reference,
        SHARE,
    )
}

/// Where all draws sit at the one capacitor: the closed form that the figures of a frame use. Draws of different
/// periods run free of each other: their variances add.
fn one_node(
    case: &Value,
    network: &Network,
    capacitors: &[Capacitor],
    ports: &[(NodeId, NodeId)],
) -> Option<Measured> {
    let [c] = capacitors else { return None };
    let draws = list(&case["draws"]);
    let here = ports[..draws.len()]
        .iter()
        .all(|p| *p == (c.positive, c.negative));
    if !here || case["group"] != "pwm" || case["id"] == "T11" {
        // T11: the two periods are multiples of each other, so its draws are not independent.
        return None;
    }
    let smoothing = Smoothing {
        source_ohm: seen_ohm(network, c.positive, c.negative).unwrap(),
        farad: c.farad,
        esr_ohm: c.esr_ohm,
    };
    let same = draws.iter().all(|d| d["period_s"] == case["period_s"]);
    let variance = if same {
        let pieces: Vec<Piece> = (stretches(case, draws.len()).iter())
            .map(|s| Piece {
                for_s: s.for_s,
                amp: s.amps.iter().sum(),
            })
            .collect();
        smoothing.periodic(&pieces).variance_a2
    } else {
        draws.iter().map(|d| alone(&smoothing, d)).sum()
    };
    let Measured { off, .. } = variance_of(variance, &case["expected"]);
    Some(Measured::share(
        "of the variance by the closed form",
        off,
        SHARE,
    ))
}

fn alone(smoothing: &Smoothing, d: &Value) -> f64 {
    let on_s = number(&d["on_share"]) * number(&d["period_s"]);
    let piece = |for_s, amp| Piece { for_s, amp };
    let rest = number(&d["period_s"]) - on_s;
    smoothing
        .periodic(&[piece(on_s, number(&d["amp"])), piece(rest, 0.0)])
        .variance_a2
}

//! Reduces the linear part of a network, once, to what its ports see.
//!
//! A *port* is a pair of nodes at which something nonlinear sits: a load, or the two pads of a
//! strip at a feed. Everything else (wires, contacts, splices, bare rails, cells) is linear, so for
//! currents `I` drawn at the ports and EMFs `E` of the cells
//!
//! ```text
//!   V = H·E − Z·I        port voltages
//!   i = G·E + Hᵀ·I       cell currents (Hᵀ by reciprocity)
//! ```
//!
//! and every node voltage and branch current is a fixed linear function of `E` and `I` as well.
//! The equations are kept in the form `v_from − v_to − R·i = 0` with the branch currents as
//! unknowns (sparse tableau; Hachtel, Brayton and Gustavson, IEEE Trans. Circuit Theory 18, 1971),
//! never as conductances: 0 ohm is an ordinary value, and resistances over many decades do not
//! swamp each other. Branch currents come out of it directly, so Kirchhoff's current law holds to
//! rounding whatever the resistances are.
//!
//! A cell whose resistance differs from the nominal one by `ΔR` is `E − ΔR·i` in place of `E`.

use super::dense;
use super::error::NetworkError;
use super::network::Source;
use super::topology::Topology;

/// Linear part of a network as seen by its ports. Matrices are row-major.
#[derive(Debug, Clone)]
pub(super) struct Reduced {
    pub(super) ports: usize,
    pub(super) sources: usize,
    /// Ports × ports: voltage lost at one port for a current drawn at another, in ohm.
    pub(super) z: Vec<f64>,
    /// Ports × sources.
    pub(super) h: Vec<f64>,
    /// Sources × sources.
    pub(super) g: Vec<f64>,
    /// Nodes × (ports + sources): node voltages.
    pub(super) node: Vec<f64>,
    /// Links × (ports + sources): link currents.
    pub(super) link: Vec<f64>,
    nominal_ohm: Vec<f64>,
}

impl Reduced {
    pub(super) fn new(
        topology: &Topology,
        sources: &[Source],
        ports: &[(usize, usize)],
    ) -> Result<Self, NetworkError> {
        let tableau = Tableau::new(topology, sources)?;
        let (p, s) = (ports.len(), sources.len());
        let (nodes, links, columns) = (topology.nodes, topology.links.len(), p + s);
        let mut node = vec![0.0; nodes * columns];
        let mut link = vec![0.0; links * columns];
        let mut source = vec![0.0; s * columns];
        for column in 0..columns {
            let x = tableau.column(ports, column)?;
            for i in 0..nodes {
                node[i * columns + column] = tableau.node_of(&x, i);
            }
            for i in 0..links {
                link[i * columns + column] = x[nodes - 1 + i];
            }
            for i in 0..s {
                source[i * columns + column] = x[nodes - 1 + links + i];
            }
        }
        let across = |port: usize, column: usize| {
            let (pos, neg) = ports[port];
            node[pos * columns + column] - node[neg * columns + column]
        };
        let mut z = vec![0.0; p * p];
        let mut h = vec![0.0; p * s];
        let mut g = vec![0.0; s * s];
        for row in 0..p {
            for column in 0..p {
                // Symmetric by reciprocity; averaging makes it so to the last bit.
                z[row * p + column] = -0.5 * (across(row, column) + across(column, row));
            }
            for column in 0..s {
                h[row * s + column] = across(row, p + column);
            }
        }
        for row in 0..s {
            for column in 0..s {
                g[row * s + column] = source[row * columns + p + column];
            }
        }
        let nominal_ohm = sources.iter().map(|s| s.ohm).collect();
        Ok(Self {
            ports: p,
            sources: s,
            z,
            h,
            g,
            node,
            link,
            nominal_ohm,
        })
    }
}

/// The tableau of the linear network, factored.
struct Tableau<'a> {
    topology: &'a Topology,
    size: usize,
    matrix: Vec<f64>,
    lu: Vec<f64>,
    pivots: Vec<usize>,
}

impl<'a> Tableau<'a> {
    fn new(topology: &'a Topology, sources: &[Source]) -> Result<Self, NetworkError> {
        if topology.has_loop_without_resistance(sources) {
            return Err(NetworkError::Singular);
        }
        let (kcl, links) = (topology.nodes - 1, topology.links.len());
        let size = kcl + links + sources.len();
        let mut t = Self {
            topology,
            size,
            matrix: vec![0.0; size * size],
            lu: vec![],
            pivots: vec![0; size],
        };
        for (i, link) in topology.links.iter().enumerate() {
            // Scaled so that no row is larger than 1.
            t.branch_row(
                kcl + i,
                link.from,
                link.to,
                -link.ohm,
                1.0 / link.ohm.max(1.0),
            );
        }
        for (i, source) in sources.iter().enumerate() {
            let row = kcl + links + i;
            t.branch_row(row, source.negative.0, source.positive.0, -source.ohm, 1.0);
        }
        t.lu = t.matrix.clone();
        if dense::factor(&mut t.lu, &mut t.pivots, size) {
            Ok(t)
        } else {
            Err(NetworkError::Singular)
        }
    }

    fn index(&self, node: usize) -> Option<usize> {
        match node.cmp(&self.topology.reference) {
            std::cmp::Ordering::Less => Some(node),
            std::cmp::Ordering::Equal => None,
            std::cmp::Ordering::Greater => Some(node - 1),
        }
    }

    /// A branch: its law in row `row`, its current (column `row`) in the current laws of its ends.
    fn branch_row(&mut self, row: usize, from: usize, to: usize, minus_ohm: f64, scale: f64) {
        let n = self.size;
        self.matrix[row * n + row] = minus_ohm * scale;
        for (node, sign) in [(from, 1.0), (to, -1.0)] {
            if let Some(k) = self.index(node) {
                self.matrix[row * n + k] += sign * scale;
                self.matrix[k * n + row] += sign;
            }
        }
    }

    /// Response to 1 A drawn at a port, or to 1 V of a cell.
    fn column(&self, ports: &[(usize, usize)], column: usize) -> Result<Vec<f64>, NetworkError> {
        let mut b = vec![0.0; self.size];
        if let Some((pos, neg)) = ports.get(column) {
            for (node, current) in [(*pos, -1.0), (*neg, 1.0)] {
                if let Some(k) = self.index(node) {
                    b[k] += current;
                }
            }
        } else {
            let source = column - ports.len();
            let first = self.topology.nodes - 1 + self.topology.links.len();
            // The row reads v_neg − v_pos − R·i = −E, with i from minus to plus through the cell.
            b[first + source] = -1.0;
        }
        let mut x = b.clone();
        dense::solve(&self.lu, &self.pivots, self.size, &mut x);
        for _ in 0..2 {
            self.refine(&b, &mut x);
        }
        if x.iter().all(|v| v.is_finite()) {
            Ok(x)
        } else {
            Err(NetworkError::Singular)
        }
    }

    /// One step of iterative refinement.
    fn refine(&self, b: &[f64], x: &mut [f64]) {
        let n = self.size;
        let mut r: Vec<f64> = (0..n)
            .map(|i| b[i] - dense::dot(&self.matrix[i * n..(i + 1) * n], x))
            .collect();
        dense::solve(&self.lu, &self.pivots, n, &mut r);
        for (x, r) in x.iter_mut().zip(&r) {
            *x += r;
        }
    }

    fn node_of(&self, x: &[f64], node: usize) -> f64 {
        self.index(node).map_or(0.0, |k| x[k])
    }
}

/// The port equations `V = open − Z·I` for the present EMFs and resistances of the cells.
#[derive(Debug, Clone)]
pub(super) struct Ports {
    /// EMF and resistance of each cell as they are now.
    pub(super) cells: Vec<(f64, f64)>,
    /// Open-circuit voltages.
    pub(super) open: Vec<f64>,
    /// Ports × ports, in ohm.
    pub(super) z: Vec<f64>,
    /// Sources × sources: inverse of `1 + G·ΔR`.
    correction: Vec<f64>,
    scratch: Vec<f64>,
    pivots: Vec<usize>,
    column: Vec<f64>,
    /// Cell currents and the EMFs behind the nominal resistances, after [`Ports::finish`].
    pub(super) source_a: Vec<f64>,
    pub(super) emf_v: Vec<f64>,
}

impl Ports {
    pub(super) fn new(reduced: &Reduced, cells: &[(f64, f64)]) -> Self {
        let (p, s) = (reduced.ports, reduced.sources);
        let mut ports = Self {
            cells: vec![(f64::NAN, f64::NAN); s],
            open: vec![0.0; p],
            z: reduced.z.clone(),
            correction: vec![0.0; s * s],
            scratch: vec![0.0; s * s],
            pivots: vec![0; s],
            column: vec![0.0; s],
            source_a: vec![0.0; s],
            emf_v: vec![0.0; s],
        };
        ports.set_cells(reduced, cells);
        ports
    }

    /// Takes the EMF and resistance of every cell. Returns false if nothing changed.
    pub(super) fn set_cells(&mut self, reduced: &Reduced, cells: &[(f64, f64)]) -> bool {
        if self.cells == cells {
            return false;
        }
        let resistance_changed = self.cells.iter().zip(cells).any(|(a, b)| a.1 != b.1);
        self.cells.copy_from_slice(cells);
        if resistance_changed {
            self.correct_resistance(reduced);
        }
        let (p, s) = (reduced.ports, reduced.sources);
        self.cell_currents(reduced, None::<std::iter::Empty<f64>>);
        for row in 0..p {
            self.open[row] = dense::dot(&reduced.h[row * s..(row + 1) * s], &self.emf_v);
        }
        true
    }

    fn delta_ohm(&self, reduced: &Reduced, source: usize) -> f64 {
        self.cells[source].1 - reduced.nominal_ohm[source]
    }

    fn correct_resistance(&mut self, reduced: &Reduced) {
        let (p, s) = (reduced.ports, reduced.sources);
        for row in 0..s {
            for column in 0..s {
                self.scratch[row * s + column] = f64::from(u8::from(row == column))
                    + reduced.g[row * s + column] * self.delta_ohm(reduced, column);
            }
        }
        self.invert_scratch(s);
        for row in 0..p {
            for column in 0..p {
                let mut sum = reduced.z[row * p + column];
                for k in 0..s {
                    let lost = reduced.h[row * s + k] * self.delta_ohm(reduced, k);
                    for m in 0..s {
                        sum += lost * self.correction[k * s + m] * reduced.h[column * s + m];
                    }
                }
                self.z[row * p + column] = sum;
            }
        }
    }

    /// Cell currents for the port currents given (none: open ports), and the EMFs corrected for
    /// resistances that differ from nominal.
    pub(super) fn cell_currents(
        &mut self,
        reduced: &Reduced,
        port_a: Option<impl Iterator<Item = f64> + Clone>,
    ) {
        let s = reduced.sources;
        for row in 0..s {
            let mut sum = 0.0;
            for column in 0..s {
                sum += reduced.g[row * s + column] * self.cells[column].0;
            }
            for (port, a) in port_a.clone().into_iter().flatten().enumerate() {
                sum += reduced.h[port * s + row] * a;
            }
            self.emf_v[row] = sum;
        }
        for row in 0..s {
            self.source_a[row] = dense::dot(&self.correction[row * s..(row + 1) * s], &self.emf_v);
        }
        for row in 0..s {
            self.emf_v[row] = self.cells[row].0 - self.delta_ohm(reduced, row) * self.source_a[row];
        }
    }

    /// `correction` becomes the inverse of `scratch`; not a number if there is none.
    fn invert_scratch(&mut self, n: usize) {
        if !dense::factor(&mut self.scratch, &mut self.pivots, n) {
            self.correction.fill(f64::NAN);
            return;
        }
        for k in 0..n {
            self.column.fill(0.0);
            self.column[k] = 1.0;
            dense::solve(&self.scratch, &self.pivots, n, &mut self.column);
            for i in 0..n {
                self.correction[i * n + k] = self.column[i];
            }
        }
    }
}

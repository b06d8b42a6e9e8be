//! The RMS current that a wire or contact carries, averaged over its thermal time: what the checks of heat in
//! one branch of the circuit have in common.

use super::thermal_rms::ThermalRms;
use crate::profile::circuit::{BranchInfo, BranchKind, Subject};
use crate::profile::figures::Figures;
use crate::study::verdict::{CheckResult, Side};
use crate::study::worst::Worst;

/// Branches of a kind with their index in the circuit.
pub(super) fn branches_of(
    subject: Subject<'_>,
    kind: BranchKind,
) -> impl Iterator<Item = (usize, &BranchInfo)> {
    let all = subject.circuit.branches.iter().enumerate();
    all.filter(move |(_, b)| b.kind == kind)
}

/// One branch under watch.
pub(super) struct Carried {
    branch: usize,
    name: String,
    rms: ThermalRms,
    worst: Worst,
}

impl Carried {
    /// Watches a branch whose heat averages over `tau_s` seconds.
    pub(super) fn new(branch: usize, name: &str, tau_s: f64) -> Self {
        Self {
            branch,
            name: name.to_owned(),
            rms: ThermalRms::new(tau_s),
            worst: Worst::new(Side::AtMost),
        }
    }

    /// Takes the next frame.
    pub(super) fn observe(&mut self, figures: &Figures) {
        let rms = figures.branch_rms_a.get(self.branch);
        let felt = self
            .rms
            .next(rms.copied().unwrap_or(f64::NAN), figures.period_s);
        self.worst.see(felt, &figures.moment);
    }

    /// The worst current so far, amperes.
    pub(super) fn most_a(&self) -> Option<f64> {
        self.worst.figure()
    }

    /// The worst current against a limit; `None` where nothing was seen.
    pub(super) fn judge(
        &self,
        id: &'static str,
        protects: &'static str,
        limit_a: f64,
    ) -> Option<CheckResult> {
        Some(
            self.worst
                .judge(id, protects, "A", limit_a)?
                .part(&self.name),
        )
    }

    /// The result where there is no limit to hold the current against.
    pub(super) fn without_limit(
        &self,
        id: &'static str,
        protects: &'static str,
        why: impl Into<String>,
    ) -> CheckResult {
        CheckResult::not_checked(id, protects, "A", why).part(&self.name)
    }
}

//! `contact-overloaded`: a switch, contact or connector pole above its rating.

use super::{of_check, Finding};
use crate::build::prop::Prop;
use crate::study::verdict::{CheckResult, Verdict};

pub(super) fn find(prop: &Prop, checks: &[CheckResult], out: &mut Vec<Finding>) {
    let failed = checks
        .iter()
        .filter(|r| r.id == "contact-current" && r.verdict == Verdict::Fails);
    for check in failed {
        let (Some(limit), Some(worst)) = (check.limit, check.worst) else {
            continue;
        };
        let name = check.part.clone().unwrap_or_default();
        out.push(of_check(prop, check, "contact-overloaded",
            format!("contact \"{name}\" carries {worst:.2} A and is rated for {limit:.2} A"),
            "an overloaded contact heats up, its resistance rises, it welds or burns open",
            format!("take a part rated for {:.1} A or more, switch a transistor instead, or lower the cap", worst * 1.25)));
    }
}

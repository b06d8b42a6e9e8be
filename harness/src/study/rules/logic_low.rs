//! `logic-level-low`: the data signal does not reach what the first pixel reads as high.

use super::{of_check, Finding};
use crate::build::prop::Prop;
use crate::study::verdict::{CheckResult, Side, Verdict};

pub(super) fn find(prop: &Prop, checks: &[CheckResult], out: &mut Vec<Finding>) {
    let failed = checks
        .iter()
        .filter(|r| r.id == "data-level" && r.verdict == Verdict::Fails);
    for check in failed {
        let (Some(limit), Some(worst)) = (check.limit, check.worst) else {
            continue;
        };
        let name = check.part.clone().unwrap_or_default();
        let word = match check.side {
            Side::AtLeast => "needs at least",
            Side::AtMost => "allows at most",
        };
        out.push(of_check(prop, check, "logic-level-low",
            format!("data at {name} is {worst:.2} V, the first pixel {word} {limit:.2} V"),
            "a level between high and low is read by chance: single pixels flash in wrong colours, more so with a full cell or a bright picture",
            "shorten or thicken the ground between board and strip, lower the supply of the first pixel, or put a level shifter into the line".to_owned()));
    }
}

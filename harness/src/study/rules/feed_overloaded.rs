//! `feed-overloaded`: a strip fed past the rating of its rails.

use super::{of_check, Finding};
use crate::build::prop::Prop;
use crate::study::verdict::{CheckResult, Verdict};

pub(super) fn find(prop: &Prop, checks: &[CheckResult], out: &mut Vec<Finding>) {
    let failed = checks
        .iter()
        .filter(|r| r.id == "rail-current" && r.verdict == Verdict::Fails);
    for check in failed {
        let (Some(limit), Some(worst)) = (check.limit, check.worst) else {
            continue;
        };
        let bare = check.bare_part().unwrap_or_default();
        out.push(of_check(prop, check, "feed-overloaded",
            format!("a rail of strip \"{bare}\" carries {worst:.2} A, its copper allows {limit:.2} A"),
            "the thin copper of a strip heats up between its feeds, and the far pixels lose voltage",
            format!("feed the strip at more places, such as {bare}.plus@end and {bare}.minus@end, or lower the cap")));
    }
}

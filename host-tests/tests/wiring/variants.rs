//! Variants of a build, the joint plan, the cut list.

use super::builds::{edited, read, Edit, RIGHT};
use lampwright::build::diag::Source;
use lampwright::build::file::{read_variant, variant_names};
use lampwright::build::parts::WireSize;
use lampwright::build::prop::Prop;
use lampwright::study::compare::differences;
use lampwright::study::workshop::cut_list::cut_list;
use lampwright::study::workshop::joints::joint_plan;
use lampwright::units::Gauge;

const VARIANTS: &str = r#"
[variant.thin]
prop.cap = 100

[variant.thin.parts.strip]
pixels = 12

[[variant.thin.wires]]
name = "P3"
type = "wire-26awg-ptfe"

[[variant.thin.wires]]
name = "X1"
from = "plus"
to = "strip.plus@end"
type = "wire-22awg-ptfe"
length = "70 mm"

[variant.bare]
remove = ["bulk"]
"#;

fn variant(text: &str, name: &str) -> Result<Prop, String> {
    let source = Source::new("build.toml", text.to_owned());
    read_variant(&source, Some(name)).map_err(|e| {
        let told =
            e.0.iter()
                .map(|e| format!("{e} {:?} {:?}", e.location(), e.help));
        told.collect::<Vec<_>>().join("\n")
    })
}

#[test]
fn a_variant_replaces_adds_and_takes_out() {
    let text = format!("{RIGHT}{VARIANTS}");
    let source = Source::new("build.toml", text.clone());
    assert_eq!(variant_names(&source), ["thin", "bare"]);
    let plain = read(&text);
    assert_eq!(
        (plain.cap, plain.wires.len(), plain.pixels()),
        (255, 12, 10)
    );
    let thin = variant(&text, "thin").unwrap();
    assert_eq!((thin.cap, thin.wires.len(), thin.pixels()), (100, 13, 12));
    assert_eq!(thin.variant.as_deref(), Some("thin"));
    let names = |p: &Prop| p.parts.iter().map(|p| p.name.clone()).collect::<Vec<_>>();
    assert_eq!(names(&thin), names(&plain), "parts keep their order");
    let p3 = thin.wires.iter().find(|w| w.name == "P3").unwrap();
    assert!(matches!(
        p3.size,
        WireSize::Gauge {
            gauge: Gauge::Awg(26),
            ..
        }
    ));
    assert_eq!(
        (p3.from.text.as_str(), p3.to.text.as_str()),
        ("plus", "strip.plus")
    );
    let bare = variant(&text, "bare").unwrap();
    assert!(!names(&bare).contains(&"bulk".to_owned()));
    assert_eq!(
        bare.wires.len(),
        10,
        "the wires of a part that is taken out go with it"
    );
    let said = differences(&plain, &thin).join("; ");
    for words in [
        "12 pixels instead of 10",
        "wire P3: 26 AWG 100 mm instead of 22 AWG 100 mm",
        "with wire X1",
        "cap 100 instead of 255",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    assert!(differences(&plain, &plain).is_empty());
}

#[test]
fn slips_in_a_variant_are_told() {
    for (more, words) in [
        ("[variant.x]\nremove = [\"bluk\"]\n", "bulk"),
        ("[variant.x]\npixles = 3\n", "no key `pixles`"),
        ("[variant.x.parts.strip]\npixles = 3\n", "no key `pixles`"),
        (
            "[[variant.x.wires]]\nname = \"P3\"\nto = \"strip.plsu\"\n",
            "strip.plus",
        ),
    ] {
        let told = variant(&format!("{RIGHT}\n{more}"), "x").unwrap_err();
        assert!(told.contains(words), "{more}: {told}");
    }
    let told = variant(&format!("{RIGHT}{VARIANTS}"), "thni").unwrap_err();
    assert!(told.contains("thin"), "{told}");
}

#[test]
fn the_cut_list_adds_slack_and_totals() {
    let prop = read(&edited(
        RIGHT,
        &[Edit::Swap(
            "name = \"P1\"",
            "name = \"P1\"\nslack = \"12 mm\"\nstrip-length = \"6 mm\"\ncolour = \"red\"",
        )],
    ));
    let list = cut_list(&prop);
    assert_eq!(list.cuts.len(), 12);
    let p1 = &list.cuts[0];
    assert!(
        (p1.cut_m - 0.042).abs() < 1e-12 && p1.slack_stated && (p1.strip_m - 0.006).abs() < 1e-12
    );
    let p2 = &list.cuts[1];
    assert!((p2.cut_m - 0.070).abs() < 1e-12 && !p2.slack_stated);
    // By hand: 22 AWG has paths 30+60+100+50+60+100 mm, slack 12+5·10 mm; six wires.
    let thick = &list.totals[0];
    assert_eq!((thick.gauge.as_str(), thick.wires), ("22 AWG", 6));
    assert!((thick.cut_m - 0.462).abs() < 1e-9, "{}", thick.cut_m);
    assert!(p1.insulation_max_c.is_some_and(|c| c >= 200.0));
}

#[test]
fn the_joint_plan_keeps_to_zones_and_after() {
    let zones = "[zones.pommel]\ndepth = 3\n[zones.grip]\ndepth = 1\nafter = [\"pommel\"]\n";
    let prop = read(&edited(
        RIGHT,
        &[
            Edit::Add(zones),
            Edit::Swap(
                "from = \"21700-nmc811-5ah\"",
                "from = \"21700-nmc811-5ah\"\nzone = \"pommel\"",
            ),
            Edit::Swap(
                "from = \"fuse-fast-2a\"",
                "from = \"fuse-fast-2a\"\nzone = \"pommel\"",
            ),
            Edit::Swap(
                "from = \"board-direct\"",
                "from = \"board-direct\"\nzone = \"grip\"\nafter = [\"strip\"]",
            ),
            Edit::Swap(
                "from = \"strip-ws2812b-60\"",
                "from = \"strip-ws2812b-60\"\nzone = \"grip\"",
            ),
        ],
    ));
    let plan = joint_plan(&prop).unwrap();
    let at = |wire: &str| plan.joints.iter().position(|j| j.wire == wire).unwrap();
    assert_eq!(plan.joints.len(), prop.wires.len());
    assert_eq!(at("P1"), 0, "both ends in the deepest zone");
    let place = |name: &str| {
        plan.install
            .iter()
            .position(|l| l.starts_with(name))
            .unwrap()
    };
    assert!(place("fuse") < place("strip") && place("strip") < place("board"));
    let p3 = &plan.joints[at("P3")];
    assert!(
        p3.heat.iter().any(|h| h.contains("below 300 °C, 3 s")),
        "LED limits are stricter: {:?}",
        p3.heat
    );
    assert!(plan.joints[at("P2")]
        .heat
        .iter()
        .all(|h| h.contains("340 °C") && h.contains("common practice")));
    assert!(plan.close.last().unwrap().contains("adhesive"));
    let ring = edited(
        RIGHT,
        &[
            Edit::Swap(
                "from = \"board-direct\"",
                "from = \"board-direct\"\nafter = [\"strip\"]",
            ),
            Edit::Swap(
                "from = \"strip-ws2812b-60\"",
                "from = \"strip-ws2812b-60\"\nafter = [\"board\"]",
            ),
        ],
    );
    assert!(joint_plan(&read(&ring))
        .unwrap_err()
        .contains("wait for one another"));
}

//! Levers against the cap of the prop with the change drawn in.

use crate::cap::brute;
use crate::props::{flicker, prop};
use lampwright::build::prop::Prop;
use lampwright::study::levers::levers;
use lampwright::study::trace::{cap_of, Search};

/// A few pixels behind long thin leads, and what else is drawn: their pulses cost more than their mean.
fn far(more: &str, lead_mm: f64) -> Prop {
    prop(&format!(
        "[prop]\nname = \"far\"\n[conditions]\nsoc-floor = \"20 %\"\n\
         [parts.cell]\nkind = \"cell\"\nfrom = \"21700-nmc811-5ah\"\n\
         [parts.s]\nkind = \"strip\"\npixel = \"ws2812b\"\npixels = 12\nrail-plus = \"2 mΩ\"\nrail-minus = \"2 mΩ\"\n\
         [[wires]]\nname = \"P\"\nfrom = \"cell.plus\"\nto = \"s.plus\"\ngauge = \"28 AWG\"\nlength = \"{lead_mm} mm\"\n\
         [[wires]]\nname = \"N\"\nfrom = \"s.minus\"\nto = \"cell.minus\"\ngauge = \"22 AWG\"\nlength = \"500 mm\"\n{more}"
    ))
}

const BULK: &str = "[parts.bulk]\nkind = \"capacitor\"\nfrom = \"capacitor-electrolytic-1000uf\"\n\
    [[wires]]\nfrom = \"bulk.plus\"\nto = \"s.plus\"\nresistance = \"0 Ω\"\n\
    [[wires]]\nfrom = \"bulk.minus\"\nto = \"s.minus\"\nresistance = \"0 Ω\"\n";

/// Each lever's cap is that of the prop drawn with the change, every cap played; the best stands first.
#[test]
fn levers_are_the_caps_of_the_changed_prop() {
    let trace = flicker(12, 60);
    let found = |built: &Prop| {
        let drawn = cap_of(built, &trace, Search::Screened, &|_, _| {}).unwrap();
        assert!(
            drawn.cap < Some(240),
            "a case worth testing: {:?}",
            drawn.cap
        );
        let list = levers(built, &trace, &drawn, &|_, _| {}).unwrap();
        assert!(list.iter().all(|l| l.cap_before == drawn.cap));
        assert!(list
            .windows(2)
            .all(|w| w[0].mends.len() > w[1].mends.len() || w[0].gain >= w[1].gain));
        list
    };
    let plain = found(&far("", 2000.0));
    let of = |list: &[lampwright::study::levers::Lever], words: &str| {
        let hit = list.iter().find(|l| l.change == words);
        hit.unwrap_or_else(|| panic!("{words}: {list:?}")).cap
    };
    let bulk = far(BULK, 2000.0);
    assert_eq!(
        of(&plain, "capacitor-electrolytic-1000uf at s"),
        Some(brute(&bulk, &trace))
    );
    assert_eq!(
        of(&plain, "P shortened to 1400 mm"),
        Some(brute(&far("", 1400.0), &trace))
    );
    let two = BULK.replace(
        "from = \"capacitor-electrolytic-1000uf\"",
        "capacitance = { value = \"2000 µF\", tolerance = \"20 %\" }\nseries-resistance = { value = \"25 mΩ\", low = \"12.5 mΩ\", high = \"100 mΩ\" }",
    );
    let more = found(&bulk);
    assert_eq!(
        of(&more, "a second capacitor beside bulk"),
        Some(brute(&far(&two, 2000.0), &trace))
    );
}

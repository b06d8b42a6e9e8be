//! The cautions that go with every report.

/// What a builder must know before any figure is trusted. Shown with every report.
pub const CAUTIONS: [&str; 6] = [
    "Lithium cells: never short, reverse, pierce or overheat one; charge only with a charger made for it; do not use a damaged or swollen cell.",
    "Polarity: a reversed cell or supply destroys pixels and boards. Check shorts first, then polarity, then put the cell in.",
    "Flashing light can trigger seizures in people with photosensitive epilepsy, even where the flash check holds. Warn people before you show it.",
    "Bright light: do not look into bare pixels from close by.",
    "Hot iron and fumes: work with good ventilation, eye protection and a stand.",
    "Every figure is computed from data sheets and the drawing, not measured on your prop. Local codes and licensed practice come first.",
];

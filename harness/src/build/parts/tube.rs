//! A tube of the enclosure: what it is made of, how large it is, and what it holds.

use crate::build::rated::Rated;
use crate::units::{Length, Ratio};

/// How long skin stays on a tube in normal use.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Touch {
    /// A minute or longer: a grip.
    Held,
    /// From ten seconds to a minute.
    Handled,
    /// From one second to ten.
    Touched,
}

impl Touch {
    /// Its spelling in build files, with each way of touching.
    pub const NAMES: [(&'static str, Self); 3] = [
        ("held", Self::Held),
        ("handled", Self::Handled),
        ("touched", Self::Touched),
    ];
}

/// How a surface feels to the skin: the classes of the touch limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Feel {
    /// Bare metal.
    Metal,
    /// Glass and the like.
    Glass,
    /// Plastic and rubber.
    Plastic,
    /// Wood.
    Wood,
}

/// What a tube is made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Material {
    /// Its name in build files.
    pub name: &'static str,
    /// Thermal conductivity, W/(m·K).
    pub conductivity: f64,
    /// Emissivity of its usual surface.
    pub emissivity: f64,
    /// How it feels.
    pub feel: Feel,
}

/// Every material a tube may be made of: conductivity and emissivity as in handbook tables of heat transfer, from
/// memory; metals as bare and handled, which a coat of paint raises to 0.9.
pub const MATERIALS: [Material; 13] = [
    Material {
        name: "aluminium",
        conductivity: 167.0,
        emissivity: 0.1,
        feel: Feel::Metal,
    },
    Material {
        name: "anodised-aluminium",
        conductivity: 167.0,
        emissivity: 0.8,
        feel: Feel::Metal,
    },
    Material {
        name: "brass",
        conductivity: 110.0,
        emissivity: 0.1,
        feel: Feel::Metal,
    },
    Material {
        name: "steel",
        conductivity: 45.0,
        emissivity: 0.3,
        feel: Feel::Metal,
    },
    Material {
        name: "stainless-steel",
        conductivity: 15.0,
        emissivity: 0.2,
        feel: Feel::Metal,
    },
    Material {
        name: "glass",
        conductivity: 1.0,
        emissivity: 0.9,
        feel: Feel::Glass,
    },
    Material {
        name: "acrylic",
        conductivity: 0.19,
        emissivity: 0.9,
        feel: Feel::Plastic,
    },
    Material {
        name: "polycarbonate",
        conductivity: 0.2,
        emissivity: 0.9,
        feel: Feel::Plastic,
    },
    Material {
        name: "pvc",
        conductivity: 0.17,
        emissivity: 0.9,
        feel: Feel::Plastic,
    },
    Material {
        name: "abs",
        conductivity: 0.17,
        emissivity: 0.9,
        feel: Feel::Plastic,
    },
    Material {
        name: "nylon",
        conductivity: 0.25,
        emissivity: 0.9,
        feel: Feel::Plastic,
    },
    Material {
        name: "glass-fibre",
        conductivity: 0.3,
        emissivity: 0.9,
        feel: Feel::Plastic,
    },
    Material {
        name: "wood",
        conductivity: 0.15,
        emissivity: 0.9,
        feel: Feel::Wood,
    },
];

/// A closed tube with parts in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Tube {
    /// Its name in the build file.
    pub name: String,
    /// What it is made of.
    pub material: Material,
    /// Outer diameter.
    pub outer: Rated<Length>,
    /// Wall thickness.
    pub wall: Rated<Length>,
    /// Length.
    pub length: Rated<Length>,
    /// Emissivity, where the build states its own.
    pub emissivity: Option<Rated<Ratio>>,
    /// How long skin stays on it.
    pub touch: Touch,
    /// Indices of the parts in it.
    pub holds: Vec<usize>,
}

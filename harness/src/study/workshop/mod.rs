//! What the builder takes to the bench: wires to cut, joints to solder.

pub mod cut_list;
pub mod joints;

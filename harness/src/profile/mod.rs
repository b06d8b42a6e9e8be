//! From frames to figures: what every frame does to cell, wires, strips and board.

pub mod bench;
pub mod cell;
pub mod circuit;
pub mod condition;
pub mod data;
pub mod figures;
pub mod lower;

//! The wiring diagram: a schematic laid out from the netlist alone, with symbols after IEC 60617.
//!
//! Supply above, return below, signal from left to right. [`lay_out`] gives the geometry, [`sheet`] puts it on paper.

mod boxes;
mod chains;
mod label;
mod live;
mod nets;
mod place;
mod room;
mod run;
mod scene;
mod sheet;
mod symbols;

pub use live::live;
pub use place::lay_out;
pub use scene::{Area, Bar, DrawnWire, Scene, Symbol, Words};
pub use sheet::{sheet, PaperSize, SheetWords, A4, LETTER};

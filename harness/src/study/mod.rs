//! Questions asked of a prop: does it hold, how bright may it be.

pub mod ampacity;
pub mod bench_sheet;
pub mod bit_timing;
pub mod calibrate;
pub mod cap;
pub mod checks;
pub mod colour_shift;
pub mod compare;
pub mod diffuser;
pub mod digest;
pub mod levers;
pub mod light;
pub mod limit;
pub mod map;
pub mod reference_case;
pub mod rules;
pub mod runtime;
pub mod search;
pub mod steady;
pub mod sweep;
pub mod trace;
pub mod verdict;
pub mod watch;
pub mod workshop;
pub mod worst;
pub mod worst_frame;

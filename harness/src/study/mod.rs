//! Questions asked of a prop: does it hold, how bright may it be.

pub mod ampacity;
pub mod cap;
pub mod checks;
pub mod diffuser;
pub mod digest;
pub mod levers;
pub mod light;
pub mod limit;
pub mod map;
pub mod rules;
pub mod runtime;
pub mod search;
pub mod steady;
pub mod sweep;
pub mod trace;
pub mod verdict;
pub mod watch;
pub mod worst;

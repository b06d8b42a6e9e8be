//! Questions asked of a prop: does it hold, how bright may it be.

pub mod ampacity;
pub mod cap;
pub mod checks;
pub mod rules;
pub mod steady;
pub mod verdict;
pub mod watch;
pub mod worst;

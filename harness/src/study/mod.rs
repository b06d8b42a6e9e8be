//! Questions asked of a prop: does it hold, how bright may it be.

pub mod rules;
pub mod verdict;

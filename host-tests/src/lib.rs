//! Tests of the whole project: see `tests`. The strategies they draw from are `lampwright::strategies`.

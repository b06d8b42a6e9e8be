//! Logging through defmt where the feature `defmt` is on; otherwise nothing, at no cost.

macro_rules! info {
    ($format:literal $(, $value:expr)* $(,)?) => {{
        #[cfg(feature = "defmt")]
        defmt::info!($format $(, $value)*);
        #[cfg(not(feature = "defmt"))]
        { $( let _ = &$value; )* }
    }};
}

macro_rules! warning {
    ($format:literal $(, $value:expr)* $(,)?) => {{
        #[cfg(feature = "defmt")]
        defmt::warn!($format $(, $value)*);
        #[cfg(not(feature = "defmt"))]
        { $( let _ = &$value; )* }
    }};
}

pub(crate) use {info, warning as warn};

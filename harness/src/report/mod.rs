//! Results as text, JSON, tables and pictures. Nothing here computes physics.

pub mod bench_sheet;
pub mod calibrate;
pub mod calibrate_picture;
pub mod cap;
pub mod cap_picture;
pub mod cautions;
pub mod compare;
pub mod decode;
pub mod diagram;
pub mod film;
pub mod findings;
pub mod html;
pub mod json;
pub mod light;
pub mod output;
pub mod packed;
pub mod parts;
pub mod picture;
pub mod profile_picture;
pub mod runtime;
pub mod samples;
pub mod samples_parquet;
pub mod sweep;
pub mod table;
pub mod text;
pub mod workshop;

//! How sure a verdict is: the same trace on many props, each with its own draw of every tolerance.
//!
//! # Method
//! Each sample draws every tolerance of the prop, a state of charge and a temperature from a stratified
//! (Latin hypercube) design that is a pure function of seed and sample number, so samples may be played
//! in any order, on any number of threads and machines. A drawn prop is an ordinary prop with exact
//! values, played by the ordinary bench and watched by the ordinary checks.
//!
//! # Playing fewer frames
//! Playing 18,000 frames for each of 10,000 samples would take the better part of an hour. A sample is
//! first played as a [`Digest`](super::digest::Digest). How far a digest's figures are from those of the
//! whole trace is measured: [`calibrate`](engine::Sweep) plays a few drawn props both ways and keeps for
//! every check and part the mean ratio of the two figures and the largest deviation from it. A sample's
//! figure is the digest's times that ratio; where it lies nearer to its limit than four times the largest
//! deviation seen, the whole trace is played and its figure stands. This is a measured bound, not a
//! proof: a prop that responds unlike every calibration prop could slip through. `--full` plays the
//! whole trace for every sample.

pub mod corners;
pub mod design;
pub mod engine;
pub mod statistics;
pub mod summary;
pub mod tolerance;

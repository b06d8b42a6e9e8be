//! A stream played on a thread of its own, with the next chunks filled ahead of it.

use super::stream::{Chunk, FrameStream};
use crate::build::diag::InputErrors;
use std::iter::repeat_with;
use std::sync::mpsc::{channel, Receiver, Sender};
use std::thread::{available_parallelism, scope, Builder};

/// Chunks under way: filled, played, or on their way back. With two, either side would wait for the other at every chunk,
/// and a thread that waits can take longer to wake up than a chunk takes to play.
const UNDER_WAY: usize = 4;

/// A chunk and what playing it leaves behind.
type Load<T> = (Chunk, T);

/// What is done with a stream.
pub struct Playing<P, F, A> {
    /// Plays a chunk and notes what it leaves behind, on a thread of its own; false if it wants no more.
    pub play: P,
    /// Works on what was left behind, on whichever thread would have to wait otherwise.
    pub finish: F,
    /// Takes the finished with the number of frames played, in their order, on this thread; false if it wants no more.
    pub take: A,
}

/// Reads a stream to its end, `frames` at a time: plays one chunk after the other on a thread of its own, while the next
/// ones are filled on this. Ends early where one side wants no more; what `play` leaves behind then is lost. Without a
/// second core, or a second thread, all is done in turn on this one.
///
/// # Errors
/// What is wrong with the input; the sound frames before it have been played.
pub fn play_ahead<T: Default + Send>(
    stream: &mut dyn FrameStream,
    frames: usize,
    playing: Playing<
        impl FnMut(&Chunk, &mut T) -> bool + Send,
        impl Fn(&mut T) + Sync,
        impl FnMut(usize, &mut T) -> bool,
    >,
) -> Result<(), InputErrors> {
    let Playing {
        mut play,
        finish,
        mut take,
    } = playing;
    let (to_play, loads) = channel();
    let (give_back, played) = channel();
    let (play_there, finish_there) = (&mut play, &finish);
    let player = move || player(&loads, play_there, finish_there, &give_back);
    let many = available_parallelism().is_ok_and(|cores| cores.get() > 1);
    let mut finish_and_take = |load: &mut Load<T>| {
        finish(&mut load.1);
        take(load.0.len(), &mut load.1)
    };
    let ended = scope(|scope| {
        let started = many && Builder::new().spawn_scoped(scope, player).is_ok();
        started.then(|| feed(stream, frames, to_play, &played, &mut finish_and_take))
    });
    ended.unwrap_or_else(|| {
        let playing = Playing { play, finish, take };
        in_turn(stream, frames, playing)
    })
}

/// The side that plays.
fn player<T>(
    loads: &Receiver<Load<T>>,
    play: &mut impl FnMut(&Chunk, &mut T) -> bool,
    finish: &impl Fn(&mut T),
    give_back: &Sender<Load<T>>,
) {
    let mut next = loads.recv().ok();
    while let Some(mut load) = next {
        if !play(&load.0, &mut load.1) {
            return;
        }
        next = loads.try_recv().ok();
        let idle = next.is_none();
        if idle {
            finish(&mut load.1);
        }
        if give_back.send(load).is_err() {
            return;
        }
        if idle {
            next = loads.recv().ok();
        }
    }
}

/// The side that fills. Either end of a channel that is gone tells that the player wants no more.
fn feed<T: Default>(
    stream: &mut dyn FrameStream,
    frames: usize,
    to_play: Sender<Load<T>>,
    played: &Receiver<Load<T>>,
    take: &mut impl FnMut(&mut Load<T>) -> bool,
) -> Result<(), InputErrors> {
    let mut take = |mut load: Load<T>| take(&mut load).then_some(load);
    let mut spare: Vec<Load<T>> = repeat_with(Load::default).take(UNDER_WAY).collect();
    let ended = loop {
        while let Some(load) = come_back(played, spare.is_empty()) {
            let Some(load) = take(load) else {
                return Ok(());
            };
            spare.push(load);
        }
        let Some(mut load) = spare.pop() else {
            return Ok(());
        };
        let filled = stream.fill(&mut load.0, frames);
        if load.0.is_empty() {
            break filled.map(|_| ());
        }
        if to_play.send(load).is_err() {
            return Ok(());
        }
        // The frames before a fault are played, those after it are not read.
        if filled.is_err() {
            break filled.map(|_| ());
        }
    };
    drop(to_play);
    played.iter().try_for_each(|load| take(load).map(|_| ()));
    ended
}

/// The next load that has been played, if there is one; waits for it where there must be.
fn come_back<T>(played: &Receiver<Load<T>>, wait: bool) -> Option<Load<T>> {
    if wait {
        played.recv().ok()
    } else {
        played.try_recv().ok()
    }
}

/// Both sides on this thread.
fn in_turn<T: Default>(
    stream: &mut dyn FrameStream,
    frames: usize,
    mut playing: Playing<
        impl FnMut(&Chunk, &mut T) -> bool,
        impl Fn(&mut T),
        impl FnMut(usize, &mut T) -> bool,
    >,
) -> Result<(), InputErrors> {
    let (mut chunk, mut left) = Load::default();
    loop {
        let filled = stream.fill(&mut chunk, frames);
        if chunk.is_empty() || !(playing.play)(&chunk, &mut left) {
            return filled.map(|_| ());
        }
        (playing.finish)(&mut left);
        if !(playing.take)(chunk.len(), &mut left) || filled.is_err() {
            return filled.map(|_| ());
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::build::diag::InputError;
    use lampwright_model::{Channels, Layout};

    /// Frames of one pixel that show their number; a fault after `sound` of them.
    struct Numbers {
        next: u8,
        sound: u8,
        fault: bool,
    }

    impl FrameStream for Numbers {
        fn layout(&self) -> Layout {
            Layout {
                pixels: 1,
                channels: Channels::Rgb,
            }
        }

        fn period_s(&self) -> f64 {
            0.01
        }

        fn fill(&mut self, chunk: &mut Chunk, frames: usize) -> Result<usize, InputErrors> {
            chunk.clear(3);
            while chunk.len() < frames && self.next < self.sound {
                chunk.push_levels().fill(self.next);
                chunk.meta.push(crate::profile::FrameMeta {
                    index: u64::from(self.next),
                    time_s: 0.0,
                    state: None,
                    layers: Default::default(),
                    cue: None,
                    new_cues: 0,
                    first_cue: 0,
                });
                self.next += 1;
            }
            if self.fault && self.next == self.sound && chunk.len() < frames {
                return Err(InputError::whole("a fault").into());
            }
            Ok(chunk.len())
        }
    }

    /// What is taken of frames up to which `play` and `take` go on, with and without a thread, and how it ended.
    fn both(sound: u8, fault: bool, play_to: u8, take_to: u8) -> (Vec<u8>, bool) {
        let found = [true, false].map(|threaded| {
            let mut stream = Numbers {
                next: 0,
                sound,
                fault,
            };
            let mut seen = Vec::new();
            let play = |chunk: &Chunk, (left, finished): &mut (Vec<u8>, bool)| {
                assert!(
                    left.is_empty(),
                    "what was left behind before is still there"
                );
                left.extend(chunk.frames().map(|(_, levels)| levels[0]));
                *finished = false;
                left.iter().all(|n| *n < play_to)
            };
            let finish = |(_, finished): &mut (Vec<u8>, bool)| *finished = true;
            let take = |frames: usize, (left, finished): &mut (Vec<u8>, bool)| {
                assert_eq!((frames, true), (left.len(), *finished));
                seen.append(left);
                seen.iter().all(|n| *n < take_to)
            };
            let playing = Playing { play, finish, take };
            let ended = if threaded {
                play_ahead(&mut stream, 7, playing)
            } else {
                in_turn(&mut stream, 7, playing)
            };
            (seen, ended.is_ok())
        });
        assert_eq!(found[0], found[1]);
        found.into_iter().next().unwrap()
    }

    fn numbers(to: u8) -> Vec<u8> {
        (0..to).collect()
    }

    #[test]
    fn every_frame_is_played_and_taken_in_its_order() {
        assert_eq!(both(0, false, 255, 255), (vec![], true));
        assert_eq!(both(3, false, 255, 255), (numbers(3), true));
        assert_eq!(both(250, false, 255, 255), (numbers(250), true));
    }

    #[test]
    fn the_frames_before_a_fault_are_played() {
        assert_eq!(both(0, true, 255, 255), (vec![], false));
        assert_eq!(both(100, true, 255, 255), (numbers(100), false));
    }

    #[test]
    fn either_side_can_end_it() {
        // The chunk in which `play` had enough is lost, that in which `take` had is not.
        assert_eq!(both(250, false, 71, 255), (numbers(70), true));
        assert_eq!(both(250, false, 255, 71), (numbers(77), true));
    }
}

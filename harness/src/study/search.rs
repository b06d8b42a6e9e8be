//! The highest step of a scale at which something holds, from a guess.

/// The highest step in `0..=top` at which `holds`, given that it holds at 0 and not at `top`.
///
/// Starts at `guess` and goes away from it in doubling strides until one step that holds lies below one
/// that does not, then halves. Two looks are enough where the guess is right. The step found holds and
/// the next one does not, whatever the guess; where more than one step has that property (which takes a
/// figure that falls when the drive rises), the one met first is given.
///
/// # Errors
/// Whatever a look reports.
pub fn highest<E>(
    top: u32,
    guess: u32,
    mut holds: impl FnMut(u32) -> Result<bool, E>,
) -> Result<u32, E> {
    let (mut low, mut high) = (0, top.max(1));
    let guess = guess.min(high - 1);
    let mut stride = 1;
    if guess == 0 || holds(guess)? {
        low = guess;
        while low + stride < high {
            if !holds(low + stride)? {
                high = low + stride;
                break;
            }
            low += stride;
            stride *= 2;
        }
    } else {
        high = guess;
        while high > low + stride {
            if holds(high - stride)? {
                low = high - stride;
                break;
            }
            high -= stride;
            stride *= 2;
        }
    }
    while high - low > 1 {
        let middle = low + (high - low) / 2;
        if holds(middle)? {
            low = middle;
        } else {
            high = middle;
        }
    }
    Ok(low)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn every_guess_leads_to_the_step() {
        for top in [1, 2, 7, 255] {
            for step in 0..top {
                for guess in [0, 1, step, step + 1, top / 2, top, 1000] {
                    let found = highest::<()>(top, guess, |s| Ok(s <= step)).unwrap();
                    assert_eq!(found, step, "top {top}, guess {guess}");
                }
            }
        }
    }

    #[test]
    fn a_right_guess_takes_two_looks() {
        let mut looks = 0;
        let found = highest::<()>(255, 97, |s| {
            looks += 1;
            Ok(s <= 97)
        });
        assert_eq!((found.unwrap(), looks), (97, 2));
    }
}

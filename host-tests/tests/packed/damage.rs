//! Bytes that are not a sound packed prop.

use super::{packed, small};
use lampwright::build::pack::{read_packed, PackedProp};
use lampwright_model::codec::DecodeError;
use lampwright_model::pack::{ReadError, StripFault, WriteError};
use proptest::prelude::*;

/// Gives changed bytes the checksum they need.
fn sealed(bytes: &[u8]) -> Vec<u8> {
    let standard = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC);
    let body = &bytes[..bytes.len().saturating_sub(4)];
    [body, &standard.checksum(body).to_le_bytes()].concat()
}

fn refused(bytes: &[u8]) -> String {
    let faults = read_packed("staff.lwpk", bytes).unwrap_err();
    let [fault] = faults.0.as_slice() else {
        panic!("{faults}")
    };
    format!("{fault} | {}", fault.help.as_deref().unwrap())
}

#[test]
fn every_flipped_bit_is_noticed() {
    let good = small().to_bytes().unwrap();
    for at in 0..good.len() {
        for bit in 0..8 {
            let mut bytes = good.clone();
            bytes[at] ^= 1 << bit;
            let error = PackedProp::from_bytes(&bytes).unwrap_err();
            let right = match at {
                0..4 => matches!(error, ReadError::NotAPack | ReadError::SinglePreset),
                4 => matches!(error, ReadError::Version { .. }),
                _ => matches!(error, ReadError::Crc { .. }),
            };
            assert!(right, "bit {bit} of byte {at}: {error}");
        }
    }
}

#[test]
fn every_shortened_or_lengthened_file_is_noticed() {
    let good = small().to_bytes().unwrap();
    for len in 0..good.len() {
        assert!(PackedProp::from_bytes(&good[..len]).is_err(), "{len}");
        // Even where the checksum is made to fit.
        assert!(
            PackedProp::from_bytes(&sealed(&good[..len])).is_err(),
            "{len}"
        );
    }
    let longer = [&good[..good.len() - 4], &[0; 5]].concat();
    assert_eq!(
        PackedProp::from_bytes(&sealed(&longer)),
        Err(ReadError::Body)
    );
}

#[test]
fn each_fault_has_its_reason_and_its_mend() {
    let good = small().to_bytes().unwrap();
    let with = |at: usize, byte: u8| {
        let mut bytes = good.clone();
        bytes[at] = byte;
        bytes
    };
    let cases = [
        (
            Vec::new(),
            "0 bytes are too few for a packed prop",
            "`lampwright pack` wrote",
        ),
        (
            b"PNG\0\x01....".to_vec(),
            "does not start with LWPK",
            "`lampwright pack` wrote",
        ),
        (
            b"LWPR\x01....".to_vec(),
            "a single preset (LWPR)",
            "figures of the parts",
        ),
        (
            with(4, 0),
            "version 0, but only version 1",
            "the release that packed it",
        ),
        (
            with(4, 2),
            "version 2, but only version 1",
            "a newer release",
        ),
        (with(9, 0), "damaged: the checksum is", "copy it again"),
    ];
    for (bytes, message, help) in cases {
        let refused = refused(&bytes);
        let (left, right) = refused.split_once(" | ").unwrap();
        assert!(
            left.starts_with("staff.lwpk: ") && left.contains(message),
            "{refused}"
        );
        assert!(right.contains(help), "{refused}");
    }
}

#[test]
fn what_no_board_could_use_is_not_packed() {
    type Change = fn(&mut PackedProp);
    let cases: [(Change, ReadError); 9] = [
        (
            |p| p.board.strips[1].pixels = 0,
            ReadError::Strip {
                index: 1,
                fault: StripFault::NoPixels,
            },
        ),
        (
            |p| p.board.strips[1].order = "GBG".into(),
            ReadError::Strip {
                index: 1,
                fault: StripFault::Order,
            },
        ),
        (
            |p| p.board.strips[1].order = "BGRX".into(),
            ReadError::Strip {
                index: 1,
                fault: StripFault::Order,
            },
        ),
        (
            |p| p.board.strips[0].channel_ua[2] = 1_000_001,
            ReadError::Strip {
                index: 0,
                fault: StripFault::Current,
            },
        ),
        (
            |p| p.board.strips[1].channel_ua[3] = 1,
            ReadError::Strip {
                index: 1,
                fault: StripFault::Current,
            },
        ),
        (
            |p| p.board.strips[2].dark_ua = u32::MAX,
            ReadError::Strip {
                index: 2,
                fault: StripFault::Current,
            },
        ),
        (
            |p| p.board.strips[0].pixels = 5000,
            ReadError::Pixels {
                frame: 5003,
                strips: 5003,
            },
        ),
        (
            |p| p.board.strips[0].pixels = 298,
            ReadError::Misfit { index: 0 },
        ),
        (
            |p| p.board.strips.clear(),
            ReadError::Pixels {
                frame: 0,
                strips: 0,
            },
        ),
    ];
    for (i, (change, error)) in cases.into_iter().enumerate() {
        let mut packed = small();
        change(&mut packed);
        assert_eq!(packed.to_bytes(), Err(WriteError::Invalid(error)), "{i}");
    }
    let mut packed = small();
    packed.presets[0].preset.pixels = 0;
    let refused = packed.to_bytes().unwrap_err();
    assert!(matches!(
        refused,
        WriteError::Invalid(ReadError::Preset {
            index: 0,
            error: DecodeError::Invalid(_)
        })
    ));
}

#[test]
fn a_preset_never_gets_out_of_its_folder() {
    for name in [
        "", ".", "..", "../x", "a/b", "a\\b", "a\u{0}", ".hidden", "a\n",
    ] {
        let mut packed = small();
        packed.presets[0].name = name.into();
        let refused = refused(&packed.to_bytes().unwrap());
        assert!(
            refused.contains("is not named as a file can be"),
            "{refused}"
        );
    }
    let mut packed = small();
    packed.presets.push(packed.presets[0].clone());
    let refused = refused(&packed.to_bytes().unwrap());
    assert!(refused.contains("two presets \"dusk\""), "{refused}");
    let mut packed = small();
    packed.board.strips[1].name = "ring".into();
    let refused = super::damage::refused(&packed.to_bytes().unwrap());
    assert!(refused.contains("two strips \"ring\""), "{refused}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Bytes changed anywhere, with the checksum made to fit, give an error or a packed prop that
    /// can be packed again: never a panic.
    #[test]
    fn forged_bytes_never_panic(
        packed in packed(),
        changes in proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
    ) {
        let mut bytes = packed.to_bytes().unwrap();
        let end = bytes.len() - 4;
        for (at, byte) in changes {
            bytes[5 + at.index(end - 5)] = byte;
        }
        if let Ok(read) = PackedProp::from_bytes(&sealed(&bytes)) {
            let again = read.to_bytes().unwrap();
            prop_assert_eq!(PackedProp::from_bytes(&again).unwrap(), read);
        }
    }

    /// Nor do bytes made from nothing.
    #[test]
    fn random_bodies_never_panic(body in proptest::collection::vec(any::<u8>(), 0..400)) {
        let bytes = [b"LWPK\x01", body.as_slice(), &[0; 4]].concat();
        let _ = PackedProp::from_bytes(&sealed(&bytes));
    }
}

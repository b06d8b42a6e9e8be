//! Logs of meters, bench supplies and current monitors: every shape that is read, and what a broken one says.
//!
//! The shapes are invented after common practice; the overload number is that of IEEE 488.2 / SCPI (9.9E37),
//! times after ISO 8601.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use lampwright::build::diag::InputErrors;
use lampwright::build::measured::{read_measured_from, Measured, ReadOptions};
use proptest::prelude::*;

fn read(text: &str) -> Result<Measured, InputErrors> {
    read_measured_from("log.csv", text.as_bytes(), &ReadOptions::default())
}

fn near(got: &[f64], want: &[f64]) {
    assert_eq!(got.len(), want.len(), "{got:?} {want:?}");
    for (g, w) in got.iter().zip(want) {
        assert!(
            (g - w).abs() < 1e-9 || (g.is_nan() && w.is_nan()),
            "{got:?} {want:?}"
        );
    }
}

/// Three samples: 0, 0.1, 0.2 s; 0.25, 0.5, 1.25 A; where logged 4.0, 3.9, 3.8 V.
fn the_three(text: &str, voltage: bool) -> Measured {
    let log = read(text).unwrap_or_else(|e| panic!("{text}\n{e}"));
    near(&log.time_s, &[0.0, 0.1, 0.2]);
    near(&log.current_a, &[0.25, 0.5, 1.25]);
    near(&log.voltage_v, if voltage { &[4.0, 3.9, 3.8] } else { &[] });
    assert!((log.interval_s - 0.1).abs() < 1e-9);
    log
}

#[test]
fn one_log_in_the_ways_that_meters_write_it() {
    the_three("time_s,current_a\n0,0.25\n0.1,0.5\n0.2,1.25\n", false);
    // Windows line ends, a byte-order mark, no line end at the end.
    the_three(
        "\u{feff}time_s,current_a\r\n0,0.25\r\n0.1,0.5\r\n0.2,1.25",
        false,
    );
    // German: semicolons, decimal commas, a row of units.
    the_three(
        "Zeit;Strom;Spannung\n[ms];[mA];[V]\n0;250,0;4,000\n100;500,0;3,900\n200;1250,0;3,800\n",
        true,
    );
    the_three(
        "Zeit [s]\tStrom [A]\n0,0\t0,25\n0,1\t0,5\n0,2\t1,25\n",
        false,
    );
    // Quoted decimal commas between commas.
    the_three(
        "Zeit (s),Strom (A)\n\"0,0\",\"0,25\"\n\"0,1\",\"0,5\"\n\"0,2\",\"1,25\"\n",
        false,
    );
    // A preamble of the logger, then the header; more columns than needed.
    let log = the_three(
        "Model: invented bench supply\nSerial;none\n\nIndex;Time (ms);U (V);I (mA);Set (mA)\n1;10;4.0;250;3000\n2;110;3.9;500;3000\n3;210;3.8;1250;3000\n",
        true,
    );
    assert!(
        log.notes
            .iter()
            .any(|n| n.what.contains("before the header")),
        "{:?}",
        log.notes
    );
    // Dates and times.
    the_three("Timestamp,Current (mA)\n2024-05-18T23:59:59.900Z,250\n2024-05-19T00:00:00.000Z,500\n2024-05-19T00:00:00.100Z,1250\n", false);
    the_three("Datum;Uhrzeit;Strom [A]\n18.05.2024;12:00:00,0;0,25\n18.05.2024;12:00:00,1;0,5\n18.05.2024;12:00:00,2;1,25\n", false);
    // A clock without a date, over midnight.
    the_three(
        "time,amps\n23:59:59.9,0.25\n00:00:00.0,0.5\n00:00:00.1,1.25\n",
        false,
    );
    // Units in the cells.
    the_three("t,i\n0 ms,250 mA\n100 ms,500 mA\n200 ms,1.25 A\n", false);
    // A current monitor with voltage and power only: the current is their quotient.
    let log = the_three(
        "time_ms,voltage_mv,power_mw\n0,4000,1000\n100,3900,1950\n200,3800,4750\n",
        true,
    );
    assert!(log.notes.iter().any(|n| n.what.contains("power divided")));
    // The shunt's own voltage is not the supply.
    the_three("time_ms,Shunt Voltage (mV),Bus Voltage (V),Current (mA)\n0,2,4.0,250\n100,5,3.9,500\n200,12,3.8,1250\n", true);
    // Numbered samples, the interval told by the preamble.
    the_three(
        "Sample interval: 100 ms\nsample,current_a\n1,0.25\n2,0.5\n3,1.25\n",
        false,
    );
    the_three(
        "Abtastrate;10 Hz\nNr;Strom [A]\n1;0,25\n2;0,5\n3;1,25\n",
        false,
    );
    // A header in Latin-1.
    let log = read_measured_from(
        "log.csv",
        &b"time_s,Strom (\xb5A)\n0,250000\n0.1,500000\n0.2,1250000\n"[..],
        &ReadOptions::default(),
    )
    .unwrap();
    near(&log.current_a, &[0.25, 0.5, 1.25]);
}

#[test]
fn what_the_log_lacks_can_be_stated() {
    let options = ReadOptions {
        columns: Some("-, current mA".into()),
        interval_s: Some(0.1),
        ..ReadOptions::default()
    };
    let log = read_measured_from("x", &b"a,250\nb,500\n"[..], &options);
    assert!(log.is_err(), "text in a column is no row: {log:?}");
    let log = read_measured_from("x", &b"7,250\n7,500\n7,1250\n"[..], &options).unwrap();
    near(&log.time_s, &[0.0, 0.1, 0.2]);
    near(&log.current_a, &[0.25, 0.5, 1.25]);
    // One column only.
    let options = ReadOptions {
        interval_s: Some(0.1),
        ..ReadOptions::default()
    };
    let log = read_measured_from("x", &b"current_ma\n250\n500\n1250\n"[..], &options).unwrap();
    near(&log.current_a, &[0.25, 0.5, 1.25]);
}

fn note<'a>(log: &'a Measured, what: &str) -> &'a lampwright::build::measured::Note {
    log.notes
        .iter()
        .find(|n| n.what.contains(what))
        .unwrap_or_else(|| panic!("no note on {what}: {:?}", log.notes))
}

#[test]
fn what_is_odd_is_counted_with_its_line() {
    // Overload markers, empty readings, a header in the middle, a cut last line.
    let log = read(
        "time_s,current_a\n0,0.1\n0.1,OL\n0.2,----\n0.3,9.9E37\n0.4,\ntime_s,current_a\n0.5,0.2\n# remark\n0.6,0.3\n0.",
    )
    .unwrap();
    let over = note(&log, "beyond the meter");
    assert_eq!((over.count, over.line), (3, Some(3)));
    assert_eq!(note(&log, "empty").count, 1);
    assert_eq!(
        (
            note(&log, "header written again").count,
            note(&log, "no rows").count
        ),
        (1, 2)
    );
    near(
        &log.current_a,
        &[0.1, f64::NAN, f64::NAN, f64::NAN, f64::NAN, 0.2, 0.3],
    );

    // A stamp twice, one that goes back.
    let mut text = String::from("time_s,current_a\n");
    for k in 0..100 {
        let t = match k {
            50 => 49,
            70 => 60,
            k => k,
        };
        text.push_str(&format!("{t},{}\n", f64::from(k % 7)));
    }
    let log = read(&text).unwrap();
    assert_eq!(log.len(), 98);
    assert_eq!(
        (
            note(&log, "time of the row before").count,
            note(&log, "time of the row before").line
        ),
        (1, Some(52))
    );
    assert_eq!(
        (note(&log, "goes back").count, note(&log, "goes back").line),
        (1, Some(72))
    );

    // A clock of whole seconds with four samples each: spread evenly.
    let mut text = String::from("time,current_a\n");
    for k in 0..40 {
        text.push_str(&format!("12:00:{:02},{}\n", k / 4, f64::from(k % 7)));
    }
    let log = read(&text).unwrap();
    assert!(
        log.time_s
            .iter()
            .enumerate()
            .all(|(k, t)| (t - k as f64 * 0.25).abs() < 1e-9),
        "{:?}",
        log.time_s
    );
    assert_eq!(note(&log, "coarse").count, 30);

    // A gap.
    let log = read("time_s,current_a\n0,1\n1,2\n2,1\n10,2\n11,1\n").unwrap();
    assert_eq!(
        (note(&log, "gap").count, note(&log, "gap").line),
        (1, Some(5))
    );
}

#[test]
fn a_current_at_the_end_of_the_range_is_left_out() {
    let value =
        |k: i32| 2.0 + 0.3 * (f64::from(k) * 0.7).sin() + 0.01 * (f64::from(k) * 91.7).sin();
    let text = |top: f64| {
        let mut text = String::from("time_s,current_a\n");
        for k in 0..400 {
            let slow = if (k / 40) % 2 == 0 {
                value(k)
            } else {
                value(k) + 2.0
            };
            text.push_str(&format!("{},{:.6}\n", f64::from(k) * 0.01, slow.min(top)));
        }
        text
    };
    let log = read(&text(3.0)).unwrap();
    assert_eq!(note(&log, "end of the range").count, 200);
    assert_eq!(log.current_a.iter().filter(|a| a.is_nan()).count(), 200);
    // What is not flat is left alone.
    let log = read(&text(9.0)).unwrap();
    assert!(log.notes.is_empty(), "{:?}", log.notes);
    // A coarse meter stands still everywhere: nothing can be said, unless the range is stated.
    let steps = "time_s,current_a\n".to_owned()
        + &(0..100)
            .map(|k| format!("{k},{}\n", if k % 40 < 20 { 1 } else { 3 }))
            .collect::<String>();
    assert!(read(&steps).unwrap().notes.is_empty());
    let options = ReadOptions {
        range_a: Some(3.0),
        ..ReadOptions::default()
    };
    let log = read_measured_from("x", steps.as_bytes(), &options).unwrap();
    assert_eq!(log.current_a.iter().filter(|a| a.is_nan()).count(), 40);
}

/// What a broken log says: text of the log, the place of the fault, a piece of the message, a piece of the help.
type Broken = (
    &'static str,
    Option<(usize, usize)>,
    &'static str,
    &'static str,
);

#[test]
fn broken_logs_say_where_and_how_to_mend() {
    let cases: [Broken; 20] = [
        ("", None, "empty", "header"),
        ("\n\n", None, "empty", "header"),
        (
            "just some words\nand more\n",
            Some((2, 1)),
            "no line is a row",
            "header",
        ),
        ("0,1\n1,2\n2,3\n", Some((1, 1)), "no names", "--columns"),
        (
            "time_s,temperature_c\n0,20\n1,21\n",
            Some((1, 1)),
            "no column is a current or a voltage",
            "current_ma",
        ),
        (
            "current_a\n1\n2\n",
            Some((1, 1)),
            "no column is a time",
            "--interval",
        ),
        (
            "sample,current_a\n1,1\n2,2\n",
            Some((1, 1)),
            "how far apart",
            "--interval",
        ),
        (
            "time_s,power_w\n0,1\n1,2\n",
            Some((1, 1)),
            "neither current nor voltage",
            "power alone",
        ),
        (
            "time_s,current_a\n0,1\n1,x7\n2,3\n",
            Some((3, 3)),
            "\"x7\" is no current",
            "OL",
        ),
        (
            "time_s,current_a\n0,1\n1,2,3\n",
            Some((3, 1)),
            "3 fields, the header 2",
            "semicolons",
        ),
        (
            "time_s;current_a\n0;1\n1\n2;3\n",
            Some((3, 1)),
            "1 fields, the header 2",
            "leave one that has no reading empty",
        ),
        (
            "time_s,current_a\n0,0,1,0\n0,1,2,0\n",
            Some((2, 1)),
            "2 columns are named, the first row has 4",
            "decimal commas",
        ),
        (
            "time_s;current_a\n0;1,5\n1;1.234,5\n2;1,0\n",
            Some((3, 3)),
            "no current",
            "thousands",
        ),
        (
            "time_s;current_a\n0;1,5\n1;2.5\n2;1,0\n",
            Some((3, 3)),
            "no current",
            "decimals with `,`",
        ),
        (
            "time,current_a\n12:00:00,1\n12:00:61,1\n12:00:02,1\n",
            Some((3, 1)),
            "no time",
            "same way",
        ),
        (
            "time_s,current_a\n0,1\n0,2\n0,1\n0,3\n",
            None,
            "every row has the same time",
            "--interval",
        ),
        (
            "time_s,current_a\n0,1\n5,1\n4,1\n3,1\n2,1\n1,1\n",
            Some((4, 1)),
            "goes back in 4 of 6",
            "sort",
        ),
        (
            "time_s,current_a\n0,OL\n1,OL\n2,OL\n",
            None,
            "no reading of the current",
            "larger range",
        ),
        ("time_s,current_a\n0,1\n", None, "1 sample", "some seconds"),
        (
            "time_s,current_a\n0,3 V\n1,3 V\n",
            Some((2, 3)),
            "\"3 V\" is no current",
            "number",
        ),
    ];
    for (text, place, message, help) in cases {
        let errors = read(text).expect_err(text);
        let first = &errors.0[0];
        assert!(
            first.message.contains(message),
            "{text:?}: {}",
            first.message
        );
        let mend = first.help.as_deref().unwrap_or_default();
        assert!(mend.contains(help), "{text:?}: {mend}");
        let got = first.location().map(|(_, line, column)| (line, column));
        assert_eq!(got, place, "{text:?}: {}", first.message);
    }
    let bytes: [(&[u8], &str); 4] = [
        (b"\xff\xfet\0i\0", "UTF-16"),
        (b"PK\x03\x04rest", "spreadsheet"),
        (b"\x1f\x8b\x08", "gzip"),
        (b"time_s,current_a\n0,1\n\0\0", "bytes of zero"),
    ];
    for (bytes, message) in bytes {
        let errors = read_measured_from("x", bytes, &ReadOptions::default()).unwrap_err();
        assert!(errors.0[0].message.contains(message), "{errors}");
    }
    // Faults are collected, up to twenty.
    let many = "time_s,current_a\n0,1\n".to_owned() + &"1,x\n".repeat(100);
    assert_eq!(read(&many).unwrap_err().0.len(), 20);
}

proptest! {
    /// Any samples in any way of writing come back.
    #[test]
    fn what_is_written_is_read(
        samples in proptest::collection::vec((-5.0_f64..5.0, 0.0_f64..6.0), 2..60),
        way in 0_usize..4,
    ) {
        let (separator, comma) = [(',', false), (';', true), ('\t', true), (';', false)][way];
        let number = |v: f64| {
            let text = format!("{v:.7}");
            if comma { text.replace('.', ",") } else { text }
        };
        let mut text = format!("time_s{separator}current_a{separator}voltage_v\n");
        for (k, (a, v)) in samples.iter().enumerate() {
            text.push_str(&format!("{}{separator}{}{separator}{}\n", number(k as f64 * 0.02), number(*a), number(*v)));
        }
        let log = read(&text).unwrap();
        prop_assert_eq!(log.len(), samples.len());
        for (k, (a, v)) in samples.iter().enumerate() {
            prop_assert!((log.current_a[k] - a).abs() < 1e-6 && (log.voltage_v[k] - v).abs() < 1e-6);
        }
    }

    /// No text makes it panic.
    #[test]
    fn no_text_panics(text in "([0-9a-z.,;:\\t\" \\-+E]{0,30}\\n){0,12}", bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
        let _ = read(&text);
        let _ = read_measured_from("x", bytes.as_slice(), &ReadOptions::default());
    }
}

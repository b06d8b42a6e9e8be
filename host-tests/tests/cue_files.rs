//! Cue traces as CSV: what is read, what is refused and where, and that nothing is lost.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use lampwright::build::cues::{read_cues, write_cues, CueTrace, TraceCue, MAX_MS, TAIL_MS};
use lampwright::build::diag::Source;
use lampwright_model::{Angle, Cue, CueKind, Share};
use proptest::collection::vec;
use proptest::prelude::*;
use support::{assert_fault, difference, shown};

fn read(text: &str) -> Result<CueTrace, Vec<String>> {
    read_cues(&Source::new("cues/walk.csv", text)).map_err(|e| shown(&e))
}

#[test]
fn every_cue_is_read_with_its_value() {
    let trace = read(
        "# a remark\n\
         time_s,cue,value\n\
         0,short-press,\n\
         0.0004,long-press\n\
         \n\
         1.5,double-press,\n\
         2,knock,80 %\n\
           # another remark\n\
         2,knock,0.8\n\
         3.25 , swing , \"25 %\"\n\
         4,twist,-45 deg\n\
         5,twist,90\n\
         6,twist,180°\n\
         7,low-cell,\n\
         8.0006,level,0.5\n\
         30,end,\n",
    )
    .unwrap();
    let share = |percent| Share::from_percent(percent);
    let wanted = [
        (0, Cue::ShortPress),
        (0, Cue::LongPress),
        (1500, Cue::DoublePress),
        (
            2000,
            Cue::Knock {
                strength: share(80),
            },
        ),
        (
            2000,
            Cue::Knock {
                strength: share(80),
            },
        ),
        (3250, Cue::Swing { speed: share(25) }),
        (
            4000,
            Cue::Twist {
                angle: Angle::from_degrees(-45),
            },
        ),
        (
            5000,
            Cue::Twist {
                angle: Angle::from_degrees(90),
            },
        ),
        (
            6000,
            Cue::Twist {
                angle: Angle(i16::MAX),
            },
        ),
        (7000, Cue::LowCell),
        (8001, Cue::Level { value: share(50) }),
    ];
    let wanted: Vec<TraceCue> = wanted
        .into_iter()
        .map(|(at_ms, cue)| TraceCue { at_ms, cue })
        .collect();
    assert_eq!(trace.cues, wanted);
    assert_eq!((trace.name.as_str(), trace.end_ms), ("walk.csv", 30_000));
}

#[test]
fn a_trace_without_an_end_goes_on_for_a_while() {
    let trace = read("time_s,cue,value\n1,short-press,\n4.5,short-press,\n").unwrap();
    assert_eq!(trace.end_ms, 4500 + TAIL_MS);
}

#[test]
fn spreadsheet_line_ends_and_a_byte_order_mark_are_taken() {
    let text = "\u{feff}time_s,cue,value\r\n1,short-press,\r\n2,knock,\"80 %\"\r\n";
    assert_eq!(read(text).unwrap().cues.len(), 2);
}

#[test]
fn a_trace_may_last_forty_days() {
    let text = format!("time_s,cue,value\n1,short-press,\n{},end,\n", MAX_MS / 1000);
    assert_eq!(read(&text).unwrap().end_ms, 40 * 86_400_000);
}

/// A whole text, and the one fault it has: place, words of the message and of the help.
const BAD: &[(&str, &str, &str, &str)] = &[
    ("", "1:1", "the cue trace is empty", "time_s,cue,value"),
    (
        "# only a remark\n",
        "1:1",
        "the cue trace is empty",
        "time_s,cue,value",
    ),
    (
        "time_s,cue,value\n",
        "2:1",
        "has no cue",
        "1.0,short-press,",
    ),
    (
        "time_s,cue,value\n9,end,\n",
        "3:1",
        "has no cue",
        "1.0,short-press,",
    ),
    (
        "time,cue,value\n1,knock,1\n",
        "1:1",
        "column 1 is \"time\", but must be \"time_s\"",
        "time_s,cue,value",
    ),
    (
        "# r\ntime_s,value,cue\n",
        "2:8",
        "column 2 is \"value\", but must be \"cue\"",
        "time_s,cue,value",
    ),
    (
        "time_s,cue\n1,short-press\n",
        "1:1",
        "lacks column 3, \"value\"",
        "time_s,cue,value",
    ),
    (
        "time_s,cue,value,note\n",
        "1:18",
        "a column too many, \"note\"",
        "time_s,cue,value",
    ),
    (
        "time_s;cue;value\n",
        "1:1",
        "column 1 is \"time_s;cue;value\"",
        "time_s,cue,value",
    ),
    (
        "time_s,cue,value\n1\n",
        "2:1",
        "the row has 1 fields",
        "4.25,knock,80 %",
    ),
    (
        "time_s,cue,value\n1,knock,0.5,hard\n",
        "2:1",
        "the row has 4 fields",
        "4.25,knock,80 %",
    ),
    (
        "time_s,cue,value\n1,short-press,\rtime",
        "2:1",
        "the row has 4 fields",
        "4.25,knock",
    ),
    (
        "time_s,cue,value\nsoon,short-press,\n",
        "2:1",
        "\"soon\" is not a time in seconds",
        "such as 4.25",
    ),
    (
        "time_s,cue,value\n,short-press,\n",
        "2:1",
        "\"\" is not a time in seconds",
        "such as 4.25",
    ),
    (
        "time_s,cue,value\n1500 ms,short-press,\n",
        "2:1",
        "\"1500 ms\" is not a time in seconds",
        "such as 4.25",
    ),
    (
        "time_s,cue,value\n1,short-press,\nNaN,short-press,\n",
        "3:1",
        "\"NaN\" is not a time",
        "such as 4.25",
    ),
    (
        "time_s,cue,value\ninf,short-press,\n",
        "2:1",
        "\"inf\" is not a time",
        "such as 4.25",
    ),
    (
        "time_s,cue,value\n-0.1,short-press,\n",
        "2:1",
        "before the start of the trace",
        "such as 4.25",
    ),
    (
        "time_s,cue,value\n3456001,short-press,\n",
        "2:1",
        "beyond 40 days",
        "3456000 s",
    ),
    (
        "time_s,cue,value\n2,short-press,\n 1.9,short-press,\n",
        "3:2",
        "1.9 s lies before the cue above it at 2.000 s",
        "sort the rows",
    ),
    (
        "time_s,cue,value\n1,shortpress,\n",
        "2:3",
        "there is no cue \"shortpress\"",
        "did you mean \"short-press\"",
    ),
    (
        "time_s,cue,value\n1,,\n",
        "2:3",
        "there is no cue \"\"",
        "use one of: short-press",
    ),
    (
        "time_s,cue,value\n1,short-press,80 %\n",
        "2:15",
        "`short-press` takes no value, but has \"80 %\"",
        "empty",
    ),
    (
        "time_s,cue,value\n1,knock,\n",
        "2:3",
        "`knock` needs its strength",
        "knock,80 %",
    ),
    (
        "time_s,cue,value\n1,swing\n",
        "2:3",
        "`swing` needs its speed",
        "swing,80 %",
    ),
    (
        "time_s,cue,value\n1,knock,80\n",
        "2:9",
        "\"80\" is not a strength",
        "knock,80 %",
    ),
    (
        "time_s,cue,value\n1,level,-1 %\n",
        "2:9",
        "\"-1 %\" is not a level",
        "level,80 %",
    ),
    (
        "time_s,cue,value\n1,swing,3 m\n",
        "2:9",
        "measures a length",
        "swing,80 %",
    ),
    (
        "time_s,cue,value\n1,twist,\n",
        "2:3",
        "`twist` needs its angle",
        "twist,-45 deg",
    ),
    (
        "time_s,cue,value\n1,twist,200\n",
        "2:9",
        "from -180 to 180",
        "twist,-45 deg",
    ),
    (
        "time_s,cue,value\n1,twist,1 rad\n",
        "2:9",
        "\"1 rad\" is not an angle",
        "twist,-45 deg",
    ),
    (
        "time_s,cue,value\n1,short-press,\n1,end,\n",
        "3:1",
        "ends at its last cue",
        "later than the last cue",
    ),
    (
        "time_s,cue,value\n1,short-press,\n9,end,\n10,short-press,\n",
        "4:1",
        "a row after the end of the trace at 9.000 s",
        "the last one",
    ),
    (
        "time_s,cue,value\n1,short-press,\n9,end,5\n",
        "3:7",
        "`end` takes no value",
        "empty",
    ),
];

#[test]
fn each_fault_is_said_where_it_stands_with_help() {
    let mut differences = Vec::new();
    for (text, at, message, help) in BAD {
        let errors = read_cues(&Source::new("walk.csv", *text)).unwrap_err();
        differences.extend(difference(&errors, at, message, help));
    }
    assert!(differences.is_empty(), "{}", differences.join("\n"));
}

#[test]
fn one_run_names_every_bad_row_but_no_flood() {
    let faults = read("time_s,cue,value\n1,knok,1\nx,knock,1\n2,knock,9\n").unwrap_err();
    assert_eq!(faults.len(), 3, "{faults:#?}");
    let text = format!("time_s,cue,value\n{}", "x,y,z\n".repeat(1000));
    let faults = read(&text).unwrap_err();
    assert!(faults.len() < 25, "{}", faults.len());
    assert!(faults.last().unwrap().contains("stopped after"));
}

#[test]
fn a_fault_names_its_file() {
    let errors = read_cues(&Source::new("cues/walk.csv", "")).unwrap_err();
    assert_fault(&errors, "1:1", "empty", "time_s");
    assert_eq!(&*errors.0[0].location().unwrap().0, "cues/walk.csv");
}

fn any_cue() -> impl Strategy<Value = Cue> {
    (
        proptest::sample::select(CueKind::ALL.to_vec()),
        any::<u16>(),
    )
        .prop_map(|(kind, bits)| kind.with(bits))
}

proptest! {
    #[test]
    fn what_is_written_reads_back_as_the_same_trace(
        mut cues in vec((0..MAX_MS - 1, any_cue()), 1..30), tail in 1..100_000u64
    ) {
        cues.sort_by_key(|c| c.0);
        let cues: Vec<_> = cues.into_iter().map(|(at_ms, cue)| TraceCue { at_ms, cue }).collect();
        let end_ms = (cues.last().unwrap().at_ms + tail).min(MAX_MS);
        let trace = CueTrace { name: "walk.csv".into(), cues, end_ms };
        let text = write_cues(&trace);
        let back = read(&text).map_err(|e| TestCaseError::fail(format!("{e:#?}\n{text}")))?;
        prop_assert_eq!(back, trace);
    }

    #[test]
    fn any_text_is_an_error_or_a_trace(text in "\\PC{0,200}") {
        let _ = read(&text);
    }

    #[test]
    fn any_rows_are_errors_with_help_or_a_trace(rows in "([0-9.,\"#a-z \r\n-]|knock|twist|end|1,){0,80}") {
        match read(&format!("time_s,cue,value\n{rows}")) {
            Ok(trace) => {
                prop_assert!(!trace.cues.is_empty());
                prop_assert!(trace.cues.is_sorted_by_key(|c| c.at_ms));
                prop_assert!(trace.cues.last().unwrap().at_ms < trace.end_ms);
            }
            Err(faults) => {
                prop_assert!(!faults.is_empty());
                for fault in faults {
                    prop_assert!(!fault.contains("NO HELP"), "{}", fault);
                }
            }
        }
    }
}

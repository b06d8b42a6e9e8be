//! What is refused in a recording, with its place and how to mend it.

use super::*;

/// A text for two RGB pixels, and the one fault it has.
const BAD_CSV: &[(&str, &str, &str, &str)] = &[
    ("", "", "there is no frame", "a header, then a row"),
    (
        "r0,g0,b0,r1,g1,b1\n",
        "",
        "there is no frame",
        "a header, then a row",
    ),
    (
        "1,2,3,4,5,6\n",
        "1:1",
        "column 1 is \"1\", but must be \"r0\"",
        "time_s",
    ),
    (
        "times,r0,g0,b0,r1,g1,b1\n1,1,1,1,1,1,1\n",
        "1:1",
        "column 1 is \"times\"",
        "did you mean \"time_s\"",
    ),
    (
        "r0,g0,b0,w0,r1,g1,b1,w1\n",
        "1:10",
        "column 4 is \"w0\", but must be \"r1\"",
        "2 pixels of 3 channels",
    ),
    (
        "r0,g0,b0\n",
        "1:1",
        "the header has 3 columns of levels, but must have 6",
        "2 pixels of 3 channels",
    ),
    (
        "r0,g0,b0,r1,g1,b1,r2\n",
        "1:19",
        "the header has 7 columns of levels, but must have 6",
        "2 pixels",
    ),
    (
        "r0,g0,b0,r1,g1,b1\n1,2,3,4,5\n",
        "2:1",
        "frame 0 has 5 fields, but must have 6",
        "write 6 levels a row",
    ),
    (
        "r0,g0,b0,r1,g1,b1\n1,2,3,4,5,6\n\n1,2,3,4,5,6,7\n",
        "4:13",
        "frame 1 has 7 fields, but must have 6",
        "6 levels",
    ),
    (
        "time_s,r0,g0,b0,r1,g1,b1\n1,2,3,4,5,6\n",
        "2:1",
        "frame 0 has 6 fields, but must have 7",
        "after the time",
    ),
    (
        "r0,g0,b0,r1,g1,b1\n1,NaN,3,4,5,6\n",
        "2:3",
        "level g0 of frame 0 is \"NaN\"",
        "from 0 to 255",
    ),
    (
        "r0,g0,b0,r1,g1,b1\n1,2,3,256,5,6\n",
        "2:7",
        "level r1 of frame 0 is \"256\"",
        "from 0 to 255",
    ),
    (
        "r0,g0,b0,r1,g1,b1\n1,2,3,4,5,99999999999\n",
        "2:11",
        "level b1 of frame 0",
        "from 0 to 255",
    ),
    (
        "r0,g0,b0,r1,g1,b1\n-1,2,3,4,5,6\n",
        "2:1",
        "level r0 of frame 0 is \"-1\"",
        "from 0 to 255",
    ),
    (
        "r0,g0,b0,r1,g1,b1\n1,2,3,4.5,5,6\n",
        "2:7",
        "level r1 of frame 0 is \"4.5\"",
        "whole number",
    ),
    (
        "r0,g0,b0,r1,g1,b1\n1,2,,4,5,6\n",
        "2:5",
        "level b0 of frame 0 is \"\"",
        "from 0 to 255",
    ),
    (
        "r0,g0,b0,r1,g1,b1\n1,2,3,4,5,\u{fffd}\n",
        "2:11",
        "level b1",
        "from 0 to 255",
    ),
    (
        "time_s,r0,g0,b0,r1,g1,b1\nnan,2,3,4,5,6,7\n",
        "2:1",
        "\"nan\" is not a time",
        "seconds from the start",
    ),
    (
        "time_s,r0,g0,b0,r1,g1,b1\n-1,2,3,4,5,6,7\n",
        "2:1",
        "\"-1\" is not a time",
        "seconds from the start",
    ),
    (
        "time_s,r0,g0,b0,r1,g1,b1\n1,2,3,4,5,6,7\n1,2,3,4,5,6,7\n",
        "3:1",
        "frame 1 is at 1 s, but the frame before it is at 1 s",
        "rise from row to row",
    ),
    (
        "time_s,r0,g0,b0,r1,g1,b1\n1,2,3,4,5,6,7\n2,2,3,4,5,6,7\n1.5,2,3,4,5,6,7\n",
        "4:1",
        "frame 2 is at 1.5 s",
        "rise from row to row",
    ),
];

#[test]
fn each_fault_of_csv_is_said_where_it_stands_with_help() {
    let mut differences = Vec::new();
    for (text, at, message, help) in BAD_CSV {
        let errors = csv(text, RGB).unwrap_err();
        differences.extend(difference(&errors, at, message, help));
    }
    assert!(differences.is_empty(), "{}", differences.join("\n"));
}

#[test]
fn frames_before_a_fault_are_handed_out_with_it() {
    let text = "r0,g0,b0,w0\n1,2,3,4\n5,6,7,8\n9,10,11,x\n";
    let mut stream = open(text, &RecordedOptions::new(RGBW)).unwrap();
    let mut chunk = Chunk::new();
    let errors = stream.fill(&mut chunk, 10).unwrap_err();
    assert_fault(
        &errors,
        "4:9",
        "level w0 of frame 2 is \"x\"",
        "from 0 to 255",
    );
    assert_eq!((chunk.len(), chunk.levels.len()), (2, 8));
}

#[test]
fn a_fault_far_into_a_long_row_keeps_its_column() {
    let layout = Layout {
        pixels: 2000,
        channels: Channels::Rgb,
    };
    let names = ["r", "g", "b"];
    let header: Vec<String> = (0..6000)
        .map(|i| format!("{}{}", names[i % 3], i / 3))
        .collect();
    let mut row = vec!["7"; 6000];
    row[5000] = "300";
    let text = format!("{}\n{}\n", header.join(","), row.join(","));
    let errors = csv(&text, layout).unwrap_err();
    assert_fault(
        &errors,
        "2:10001",
        "level b1666 of frame 0 is \"300\"",
        "from 0 to 255",
    );
    // What is shown of the row is a piece around the fault.
    let place = errors.0[0].place.clone().unwrap();
    assert_eq!(&place.source.text[place.span.clone()], "300");
    assert!(place.source.text.len() < 300);
}

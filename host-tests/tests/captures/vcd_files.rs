//! Value change dumps, sound and broken.

use super::support::difference;
use super::wires::head;
use lampwright::build::diag::InputErrors;
use lampwright::profile::capture::vcd::{Change, Level, VcdReader};
use proptest::prelude::*;
use std::io::{Cursor, Read};

/// Hands out a few bytes at a time, so that words are cut everywhere.
struct Dribble(Cursor<Vec<u8>>, usize);

impl Read for Dribble {
    fn read(&mut self, out: &mut [u8]) -> std::io::Result<usize> {
        let most = self.1.min(out.len());
        self.0.read(&mut out[..most])
    }
}

fn changes_by(text: &[u8], signals: &[&str], piece: usize) -> Result<Vec<Change>, InputErrors> {
    let input = Dribble(Cursor::new(text.to_vec()), piece);
    let mut vcd = VcdReader::new("cap.vcd", Box::new(input))?;
    vcd.select(signals)?;
    let mut out = Vec::new();
    while let Some(change) = vcd.next_change()? {
        out.push(change);
    }
    Ok(out)
}

fn changes(text: &str, signals: &[&str]) -> Result<Vec<Change>, InputErrors> {
    let all = changes_by(text.as_bytes(), signals, usize::MAX);
    for piece in [1, 7, 100] {
        let other = changes_by(text.as_bytes(), signals, piece);
        match (&all, &other) {
            (Ok(a), Ok(b)) => assert_eq!(a, b),
            (Err(a), Err(b)) => assert_eq!(a.to_string(), b.to_string()),
            _ => panic!("differs when read {piece} bytes at a time"),
        }
    }
    all
}

/// Time, line, level in short.
fn short(changes: &[Change]) -> Vec<(u64, usize, char)> {
    let level = |l| match l {
        Level::Low => '0',
        Level::High => '1',
        Level::Unknown => 'x',
    };
    changes
        .iter()
        .map(|c| (c.time, c.line, level(c.level)))
        .collect()
}

#[test]
fn the_worked_example_of_the_standard_is_read() {
    // IEEE Std 1364-2005, 18.2.3: the example of a four-state dump, from memory in its layout, shortened.
    let text = "$date June 26, 1989 10:05:41\n$end\n$version VERILOG-SIMULATOR 1.0a\n$end\n$timescale 1 ns\n$end\n\
        $scope module top $end\n$scope module m1 $end\n$var trireg 1 *@ net1 $end\n$var trireg 1 *# net2 $end\n\
        $upscope $end\n$scope task t1 $end\n$var reg 32 (k accumulator[31:0] $end\n$var integer 32 {2 index $end\n\
        $upscope $end\n$upscope $end\n$enddefinitions $end\n$comment\nnote: $dumpvars was executed at time '#500'\n$end\n\
        #500\n$dumpvars\nx*@\nx*#\nbx (k\nbx {2\n$end\n#505\n0*@\n1*#\nb10000011 (k\nb100 {2\n#510\n0*@\n1*#\n\
        #520\n$dumpoff\nx*@\nx*#\n$end\n#530\n$dumpon\nz*@\n0*#\n$end\n#535\n1*@\n";
    let found = changes(
        text,
        &["net1", "m1.net2", "accumulator[7]", "accumulator[2]"],
    );
    let wanted = [
        (500, 0, 'x'),
        (500, 1, 'x'),
        (500, 2, 'x'),
        (500, 3, 'x'),
        (505, 0, '0'),
        (505, 1, '1'),
        (505, 2, '1'),
        (505, 3, '0'),
        (520, 0, 'x'),
        (520, 1, 'x'),
        (530, 1, '0'),
        (535, 0, '1'),
    ];
    assert_eq!(short(&found.unwrap()), wanted);
}

#[test]
fn words_may_share_lines_as_logic_analysers_write_them() {
    let text = "$timescale 100 ps $end $scope module lib $end $var wire 1 ! D0 $end $var wire 1 \" D1 $end $upscope $end\n\
        $enddefinitions $end\n#0 0! 1\"\n#1024 1! 0\"\r\n#1030 0!\n#2000";
    let found = changes(text, &["D0", "D1"]).unwrap();
    let wanted = [
        (0, 0, '0'),
        (0, 1, '1'),
        (1024, 0, '1'),
        (1024, 1, '0'),
        (1030, 0, '0'),
    ];
    assert_eq!(short(&found), wanted);
}

#[test]
fn names_of_one_line_and_bits_of_a_bus_are_told() {
    let text = "$timescale 1 us $end $var wire 1 ! a $end $var wire 1 ! b $end $var wire 4 % bus [3:0] $end\n\
        $var wire 1 & flag [2] $end $enddefinitions $end\n#5 1! b1010 % 0&\n#6 b11 % 1&\n";
    let input = Cursor::new(text.as_bytes().to_vec());
    let mut vcd = VcdReader::new("cap.vcd", Box::new(input)).unwrap();
    let lines = vcd
        .select(&["a", "b", "bus[3]", "bus[0]", "flag[2]"])
        .unwrap();
    assert_eq!(lines, [0, 0, 1, 2, 3]);
    assert_eq!(vcd.timescale().step_fs, 1_000_000_000);
    let found = changes(text, &["bus[3]", "bus[0]", "flag[2]"]).unwrap();
    // A value of fewer digits is extended with zeros: bit 3 of b11 is 0.
    let wanted = [
        (5, 0, '1'),
        (5, 1, '0'),
        (5, 2, '0'),
        (6, 0, '0'),
        (6, 1, '1'),
        (6, 2, '1'),
    ];
    assert_eq!(short(&found), wanted);
}

#[test]
fn times_are_exact_however_long_the_capture() {
    // A day in femtoseconds does not fit into 64 bits as such; in steps of the file it does.
    let day_ps = 86_400_000_000_000_000_u64;
    let text = format!("{}#{day_ps} 1!\n#{} 0!\n", head("1 ps"), day_ps + 1);
    let found = changes(&text, &["D"]).unwrap();
    assert_eq!(found[1].time - found[0].time, 1);
    let most = u64::MAX;
    let text = format!("{}#{} 1!\n#{most} 0!\n", head("100 s"), most - 1);
    assert_eq!(changes(&text, &["D"]).unwrap()[1].time, most);
}

struct Broken {
    what: &'static str,
    text: String,
    signal: &'static str,
    at: &'static str,
    message: &'static str,
    help: &'static str,
}

fn broken(
    what: &'static str,
    text: impl Into<String>,
    at: &'static str,
    message: &'static str,
    help: &'static str,
) -> Broken {
    Broken {
        what,
        text: text.into(),
        signal: "D",
        at,
        message,
        help,
    }
}

fn all_broken() -> Vec<Broken> {
    let body = |text: &str| format!("{}{text}", head("1 ns"));
    let var = "$var wire 1 ! D $end\n";
    let done = "$enddefinitions $end\n";
    let mut all = vec![
        broken("empty", "", "", "nothing in it", "value change dump"),
        broken(
            "another format",
            "time,level\n0,1\n",
            "1:1",
            "no value change dump",
            "export",
        ),
        broken(
            "binary",
            "\u{1f}\u{8b}\0\0abc def",
            "1:2",
            "no value change dump",
            "VCD",
        ),
        broken(
            "cut in the head",
            "$timescale 1 ns $end\n$var wire 1 ! D",
            "2:16",
            "$var has no $end",
            "$end",
        ),
        broken(
            "cut after a declaration",
            "$timescale 1 ns $end\n",
            "2:1",
            "the head does not end",
            "$enddefinitions",
        ),
        broken(
            "no time scale",
            format!("{var}{done}#0 1!\n"),
            "",
            "no $timescale",
            "1, 10 or 100",
        ),
        broken(
            "a wrong number",
            format!("$timescale 5 ns $end\n{var}{done}"),
            "1:12",
            "time scale of 5 ns",
            "1, 10 or 100",
        ),
        broken(
            "a wrong unit",
            format!("$timescale 1 nsec $end\n{var}{done}"),
            "1:12",
            "\"nsec\" is no unit",
            "ns, ps or fs",
        ),
        broken(
            "no number",
            format!("$timescale ns $end\n{var}{done}"),
            "1:12",
            "without a number",
            "1, 10 or 100",
        ),
        broken(
            "two scales",
            format!("$timescale 1 ns $end $timescale 1 us $end\n{var}{done}"),
            "1:38",
            "second, different",
            "keep one",
        ),
        broken(
            "a misspelt keyword",
            format!("$timescale 1 ns $end\n$vra wire 1 ! D $end\n{done}"),
            "2:1",
            "\"$vra\" is no keyword",
            "did you mean $var?",
        ),
        broken(
            "a short $var",
            format!("$timescale 1 ns $end\n$var wire 1 $end\n{done}"),
            "2:6",
            "a $var of 2 words",
            "$var wire 1 ! data",
        ),
        broken(
            "a wrong width",
            format!("$timescale 1 ns $end\n$var wire one ! D $end\n{done}"),
            "2:11",
            "\"one\"",
            "width",
        ),
        broken(
            "a missing $end",
            format!("$timescale 1 ns\n{var}{done}"),
            "2:1",
            "$timescale has no $end before $var",
            "$end",
        ),
        broken(
            "$upscope too many",
            format!("$timescale 1 ns $end\n{var}$upscope $end\n{done}"),
            "3:10",
            "without a $scope",
            "take it out",
        ),
        broken(
            "values in the head",
            format!("$timescale 1 ns $end\n{var}#0 1!\n"),
            "3:1",
            "\"#0\" stands in the head",
            "$enddefinitions",
        ),
        broken(
            "no variable",
            format!("$timescale 1 ns $end\n{done}#0\n"),
            "",
            "declares no variable",
            "$var wire",
        ),
        broken(
            "time goes back",
            body("#10 1!\n#20 0!\n#15 1!\n"),
            "8:1",
            "time 15 comes after time 20",
            "sort",
        ),
        broken(
            "time is no number",
            body("#10 1!\n#2O 0!\n"),
            "7:1",
            "\"#2O\" is not a time",
            "whole number",
        ),
        broken(
            "time without digits",
            body("#10 1!\n# 0!\n"),
            "7:1",
            "\"#\" is not a time",
            "such as #1250",
        ),
        broken(
            "time too large",
            body("#10 1!\n#18446744073709551616 0!\n"),
            "7:1",
            "is not a time",
            "18446744073709551615",
        ),
        broken(
            "unknown identifier",
            body("#10 1!\n#20 0?\n"),
            "7:5",
            "identifier \"?\"",
            "$var wire 1 ?",
        ),
        broken(
            "a wrong value",
            body("#10 1!\n#20 2!\n"),
            "7:5",
            "\"2!\" is no value change",
            "such as 1!",
        ),
        broken(
            "value without identifier",
            body("#10 1!\n#20 0 !\n"),
            "7:5",
            "has no identifier",
            "without a space",
        ),
        broken(
            "a wrong vector",
            body("#10 1!\n#20 b01q1 !\n"),
            "7:5",
            "\"b01q1\" is no value",
            "b0101 !",
        ),
        broken(
            "a vector cut off",
            body("#10 1!\n#20 b01"),
            "7:8",
            "the value has no identifier",
            "cut off",
        ),
        broken(
            "a port value",
            body("#10 pD 6 0 !\n"),
            "6:5",
            "extended dump",
            "four-state",
        ),
        broken(
            "unknown keyword in the body",
            body("#10 1!\n$dumpal\n"),
            "7:1",
            "\"$dumpal\" is no keyword",
            "did you mean $dumpall?",
        ),
        broken(
            "comment without end",
            body("#10 1!\n$comment runs on\n"),
            "8:1",
            "$comment has no $end",
            "close",
        ),
        broken(
            "a wrong number",
            body("#10 r1.x !\n"),
            "6:5",
            "\"r1.x\" is no number",
            "r1.25",
        ),
        broken(
            "cut in a time",
            body("#1000 1!\n#100"),
            "7:1",
            "may be cut off",
            "must not fall",
        ),
        broken(
            "a word without end",
            body(&format!("#10 {}", "1".repeat(300_000))),
            "6:5",
            "more than 65536",
            "short words",
        ),
    ];
    let signal = |what, text: &str, signal, message, help| Broken {
        signal,
        ..broken(
            what,
            format!("$timescale 1 ns $end\n{text}{done}#0\n"),
            "",
            message,
            help,
        )
    };
    all.extend([
        signal("no such signal", var, "DO", "no signal \"DO\"", "the file has D"),
        signal("two of a name", "$scope module a $end $var wire 1 ! D $end $upscope $end $scope module b $end $var wire 1 \" D $end $upscope $end\n", "D", "several signals", "with its scopes"),
        signal("an analogue signal", "$var real 64 ! D $end\n", "D", "numbers for values", "digital"),
        signal("a bus", "$var wire 8 ! D [7:0] $end\n", "D", "has 8 bits", "D[0]"),
        signal("a bit that is not there", "$var wire 8 ! D [7:0] $end\n", "D[8]", "does not exist", "7 to 0"),
    ]);
    all
}

#[test]
fn broken_dumps_are_refused_with_place_and_mend() {
    let all = all_broken();
    assert!(all.len() >= 30);
    let mut wrong = Vec::new();
    for case in &all {
        match changes(&case.text, &[case.signal]) {
            Ok(found) => wrong.push(format!("{}: read {} changes", case.what, found.len())),
            Err(errors) => {
                let off = difference(&errors, case.at, case.message, case.help);
                wrong.extend(off.map(|d| format!("{}:\n{d}", case.what)));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_fault_far_into_a_long_file_keeps_its_line_and_column() {
    let mut text = head("1 ns");
    for k in 0..200_000 {
        text.push_str(&format!("#{} {}!\n", 10 * k, k % 2));
    }
    text.push_str("#9999999 1! 0! 1! 7!\n");
    let errors = changes_by(text.as_bytes(), &["D"], usize::MAX).unwrap_err();
    let off = difference(
        &errors,
        "200006:19",
        "\"7!\" is no value change",
        "such as 1!",
    );
    assert_eq!(off, None);
}

proptest! {
    #[test]
    fn any_bytes_are_errors_with_help_or_changes(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
        if let Err(errors) = changes_by(&bytes, &["D"], usize::MAX) {
            prop_assert!(errors.0.iter().all(|e| e.help.is_some()));
        }
    }

    #[test]
    fn any_words_after_a_sound_head_are_errors_with_help_or_changes(body in "[#$01xzbr!\" \n\t0-9a-f]{0,200}", piece in 1..90usize) {
        let text = format!("{}{body}", head("10 ns"));
        let whole = changes_by(text.as_bytes(), &["D"], usize::MAX);
        let pieces = changes_by(text.as_bytes(), &["D"], piece);
        match (whole, pieces) {
            (Ok(a), Ok(b)) => {
                prop_assert!(a.windows(2).all(|w| w[0].time <= w[1].time));
                prop_assert_eq!(a, b);
            }
            (Err(a), Err(b)) => {
                prop_assert!(a.0.iter().all(|e| e.help.is_some()));
                prop_assert_eq!(a.to_string(), b.to_string());
            }
            _ => prop_assert!(false, "whole and in pieces differ"),
        }
    }
}

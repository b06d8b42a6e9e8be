//! What is refused in a preset, with its place and how to mend it.

use super::*;

/// What is changed in [`WHOLE`], and the one fault it gives: place, words of the message and help.
const BAD: &[(&str, &str, &str, &str, &str)] = &[
    (
        "seed = 99",
        "seed = -1",
        "3:8",
        "must be a whole number from 0 to 4294967295",
        "write a whole number",
    ),
    (
        "name = \"Test Lantern\"",
        "name = \"\"",
        "2:8",
        "`preset.name` must not be empty",
        "write name",
    ),
    (
        "name = \"Test Lantern\"\n",
        "",
        "1:1",
        "`preset` lacks `name`",
        "add a line such as: name",
    ),
    (
        "\"Test Lantern\"",
        "\"A name of far more than thirty-two bytes\"",
        "2:8",
        "up to 32 bytes",
        "shorter",
    ),
    (
        "\"50 Hz\"",
        "\"0 Hz\"",
        "4:14",
        "`preset.frame-rate` is 0 Hz",
        "from 1 Hz to 250 Hz",
    ),
    (
        "\"50 Hz\"",
        "50",
        "4:14",
        "is not a frame rate",
        "write frame-rate = \"60 Hz\"",
    ),
    (
        "\"linear\"",
        "\"liner\"",
        "5:12",
        "does not know \"liner\"",
        "did you mean \"linear\"",
    ),
    (
        "dither = true",
        "dither = \"yes\"",
        "6:10",
        "must be true or false",
        "write dither",
    ),
    (
        "\"50 %\"",
        "50",
        "7:15",
        "is not a share",
        "write white-share = \"80 %\"",
    ),
    (
        "\"walk.csv\"",
        "\"../walk.csv\"",
        "8:9",
        "is not the name of a cue trace",
        "cues folder",
    ),
    (
        "time = \"900 ms\"",
        "time = \"900 mV\"",
        "12:8",
        "is not a time",
        "write time = \"900 ms\"",
    ),
    (
        "time = \"900 ms\"",
        "time = \"2 h\"",
        "12:8",
        "`rise.time` is 2 h, but must lie from 0 ms to 1 h",
        "from 0 ms to 1 h",
    ),
    (
        "time = \"1.5 s\"",
        "time = \"0.5 ms\"",
        "19:8",
        "is not a time",
        "write time",
    ),
    (
        "style = \"sweep\"",
        "style = \"swep\"",
        "13:9",
        "does not know \"swep\"",
        "did you mean \"sweep\"",
    ),
    (
        "time = \"1.5 s\"",
        "time = \"1.5 s\"\nedge = \"4 px\"",
        "20:8",
        "a fade has no `edge`",
        "style = \"sweep\"",
    ),
    (
        "edge = \"4 px\"",
        "edge = \"5 %\"",
        "15:8",
        "is not a size",
        "write edge = \"4 px\"",
    ),
    (
        "\"double-press\"",
        "\"dubble-press\"",
        "22:11",
        "does not know \"dubble-press\"",
        "did you mean \"double-press\"",
    ),
    (
        "column = [\"column\"]",
        "column = [\"colum\"]",
        "26:11",
        "does not know \"colum\"",
        "did you mean \"column\"",
    ),
    (
        "to = 95",
        "to = 96",
        "27:44",
        "must be a whole number from 0 to 95",
        "from 0 to 95",
    ),
    (
        "from = 88, to = 95",
        "from = 95, to = 88",
        "27:44",
        "from pixel 95 back to pixel 88",
        "reversed = true",
    ),
    (
        "length = 6 }",
        "length = 60 }",
        "28:9",
        "`zones.ring[0]` goes up to pixel 155, but the last pixel of the frame is 108",
        "at most 109",
    ),
    (
        "length = 6 }",
        "length = 0 }",
        "28:9",
        "`zones.ring[0]` has 0 pixels",
        "from 1 to 109",
    ),
    (
        "length = 6 }",
        "length = 9 }",
        "28:37",
        "`zones.ring[1]` shares pixels",
        "each pixel",
    ),
    (
        "ring = [{ start = 96, length = 6 }, { strip = \"collar\", from = 8 }]",
        "ring = []",
        "28:8",
        "`zones.ring` must not be empty",
        "[\"column\"]",
    ),
    (
        "zone = \"ring\"",
        "zone = \"rung\"",
        "59:8",
        "`zones` does not know \"rung\"",
        "did you mean \"ring\"",
    ),
    (
        "opacity = \"80 %\"",
        "opacity = \"120 %\"",
        "33:11",
        "`layers[0].opacity` is not a share",
        "80 %",
    ),
    (
        "opacity = \"80 %\"",
        "opactiy = \"80 %\"",
        "33:1",
        "has no key `opactiy`",
        "did you mean `opacity`",
    ),
    (
        "start = \"knock\"",
        "start = \"dark\"",
        "34:9",
        "starts on entering dark never shows",
        "\"rising\"",
    ),
    (
        "start = \"knock\"",
        "start = \"knok\"",
        "34:9",
        "`layers[0].start` does not know",
        "did you mean \"knock\"",
    ),
    (
        "kind = \"gradient\"",
        "kind = \"gradent\"",
        "38:8",
        "`layers[0].paint.kind` does not know",
        "did you mean \"gradient\"",
    ),
    ("at = 0.5", "at = 5", "41:10", "is not a share", "80 %"),
    (
        "{ at = \"0 %\",",
        "{ at = \"60 %\",",
        "41:10",
        "lies before the stop before it",
        "lowest",
    ),
    (
        "\"#000000\"",
        "\"#0000\"",
        "40:26",
        "is not a colour",
        "#ff9a3c",
    ),
    (
        "green = \"1/65535\"",
        "white = \"1/65535\"",
        "41:24",
        "no white channel",
        "take `white` out",
    ),
    (
        "green = \"1/65535\"",
        "gren = \"1/65535\"",
        "41:41",
        "has no key `gren`",
        "did you mean `green`",
    ),
    (
        "scroll = \"2 min\"",
        "scroll = \"2 h\"",
        "43:10",
        "`layers[0].paint.scroll` is 2 h",
        "0 ms to 1 h",
    ),
    (
        "from = \"centre\"",
        "from = \"center\"",
        "47:8",
        "does not know \"center\"",
        "did you mean \"centre\"",
    ),
    (
        "soft = \"2.5 px\"",
        "soft = \"2.5 mm\"",
        "49:8",
        "is not a size along the strip",
        "4 px",
    ),
    (
        "attack = \"10 ms\"",
        "attack = 10",
        "53:10",
        "is not a time",
        "write attack = \"900 ms\"",
    ),
    (
        "kind = \"adsr\"",
        "kind = \"one-shot\"",
        "54:1",
        "has no key `decay`",
        "known keys here",
    ),
    (
        "radius = \"25 %\"",
        "soft = \"25 %\"",
        "63:1",
        "lacks `radius`",
        "radius = \"4 px\"",
    ),
    (
        "[controls]",
        "[control]",
        "21:2",
        "the file has no key `control`",
        "did you mean `controls`",
    ),
    (
        "colour = \"#ffffff\"",
        "colour = #ffffff",
        "62:10",
        "not well-formed TOML",
        "key = \"text\"",
    ),
];

#[test]
fn each_fault_is_said_where_it_stands_with_help() {
    let mut differences = Vec::new();
    for (old, new, at, message, help) in BAD {
        assert_eq!(WHOLE.matches(old).count().min(1), 1, "{old}");
        let text = if *old == "kind = \"adsr\"" {
            // Its own keys are unknown to the other kind: two are, and one is enough to see.
            WHOLE
                .replacen(old, new, 1)
                .replace("sustain = \"40 %\"\n", "")
        } else {
            WHOLE.replacen(old, new, 1)
        };
        let errors = read_preset(&Source::new("test.toml", text), &staff()).unwrap_err();
        differences.extend(difference(&errors, at, message, help));
    }
    assert!(differences.is_empty(), "{}", differences.join("\n"));
}

#[test]
fn one_run_names_the_faults_of_every_part() {
    let text = WHOLE
        .replacen("name = \"Test Lantern\"", "name = \"\"", 1)
        .replacen("\"900 ms\"", "\"2 h\"", 1)
        .replacen("to = 95", "to = 99", 1)
        .replacen("start = \"knock\"", "start = \"dark\"", 1)
        .replacen("scroll = \"2 min\"", "scroll = \"2 h\"", 1)
        .replacen("time = \"400 ms\"", "time = \"2 h\"", 1)
        .replacen("release = \"1 s\"", "release = \"2 h\"", 1)
        .replacen("radius = \"25 %\"", "radius = 25", 1);
    let faults = read(&text, &staff()).unwrap_err();
    assert_eq!(faults.len(), 8, "{faults:#?}");
}

#[test]
fn lists_that_are_too_long_for_the_board_say_how_much_fits() {
    let zones: String = (0..9).map(|i| format!("z{i} = [\"column\"]\n")).collect();
    let text = format!("[preset]\nname = \"A\"\n[zones]\n{zones}");
    let errors = read_preset(&Source::new("t", text), &staff()).unwrap_err();
    assert_fault(&errors, "12:6", "one zone too many", "up to 8 zones");

    let head = "preset.name = \"A\"\nzones.c = [\"column\"]\n";
    let layer = "[[layers]]\nzone = \"c\"\npaint = { kind = \"solid\", colour = \"#000000\" }\n";
    let text = format!("{head}{}", layer.repeat(9));
    let errors = read_preset(&Source::new("t", text), &staff()).unwrap_err();
    assert_fault(&errors, "27:1", "one layer too many", "up to 8 layers");

    let stops = "{ at = 0, colour = \"#000000\" }, ".repeat(9);
    let text = format!(
        "{head}[[layers]]\nzone = \"c\"\n[layers.paint]\nkind = \"gradient\"\nstops = [{stops}]\n"
    );
    let errors = read_preset(&Source::new("t", text), &staff()).unwrap_err();
    assert_fault(&errors, "7:266", "one stop too many", "up to 8 stops");

    let runs: Vec<String> = (0..5)
        .map(|i| format!("{{ start = {i}, length = 1 }}"))
        .collect();
    let text = format!("preset.name = \"A\"\nzones.c = [{}]\n", runs.join(", "));
    let errors = read_preset(&Source::new("t", text), &staff()).unwrap_err();
    assert_fault(&errors, "2:120", "one run too many", "up to 4 runs");
}

#[test]
fn a_prop_of_too_many_pixels_is_refused() {
    let layout = StripMap::new([("wall", 5000)], Channels::Rgb);
    let text = "preset.name = \"A\"\nzones.w = [{ start = 0, length = 9 }]\n";
    let errors = read_preset(&Source::new("t", text), &layout).unwrap_err();
    assert_fault(&errors, "1:1", "drives up to 4095", "take strips out");
    let layout = StripMap::new([("wall", 500_000)], Channels::Rgb);
    let errors = read_preset(&Source::new("t", text), &layout).unwrap_err();
    assert_fault(&errors, "1:1", "drives up to 4095", "take strips out");
    let layout = StripMap::new([], Channels::Rgb);
    assert!(read(text, &layout).is_err());
}

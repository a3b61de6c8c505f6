use super::super::{MarkerError, parse_marker_list, read_marker_list};
use super::marker;

fn message(text: &str) -> String {
    parse_marker_list(text).unwrap_err().to_string()
}

#[test]
fn every_form_of_time_and_every_separator_is_read() {
    let text = "\u{feff}# song: Lantern Tide\r\n\
                \r\n\
                0\tIntro\r\n\
                12.5,Verse, quiet\r\n\
                  0:41 ; Chorus\r\n\
                1:05.250   Bridge of 2 bars\r\n\
                1:01:01 \"Late, very\"\r\n\
                -0:04 Count-in\r\n\
                75.125\r\n";
    assert_eq!(
        parse_marker_list(text),
        Ok(vec![
            marker(-4.0, "Count-in"),
            marker(0.0, "Intro"),
            marker(12.5, "Verse, quiet"),
            marker(41.0, "Chorus"),
            marker(65.25, "Bridge of 2 bars"),
            marker(75.125, ""),
            marker(3_661.0, "Late, very"),
        ])
    );
    assert_eq!(parse_marker_list(""), Ok(vec![]));
    assert_eq!(parse_marker_list("3,,x"), Ok(vec![marker(3.0, ",x")]));
}

#[test]
fn a_bad_line_is_named_with_what_stands_there_and_the_rule() {
    let rule = "is no time: must begin with seconds, m:ss or h:mm:ss";
    assert_eq!(message("0 a\n# b\ntime,name"), format!("line 3: \"time\" {rule}"));
    for bad in [
        "1:", ":30", "1:2:3:4", "1e3", "0x10", "1.2.3", "--1", "+1", "1.", ".5", "NaN", "inf",
        "1:0.5:00", "１",
    ] {
        assert_eq!(message(bad), format!("line 1: \"{bad}\" {rule}"), "{bad}");
    }
    assert_eq!(
        message("1:60 x"),
        "line 1: \"60\" after a colon: minutes and seconds must be below 60"
    );
    assert_eq!(
        message("1:75:00 x"),
        "line 1: \"75\" after a colon: minutes and seconds must be below 60"
    );
    assert_eq!(message("0 a\n7200.5 b"), "line 2: time 7200.5: must lie from -60 to 7200 s");
    assert_eq!(message("-60.5 b"), "line 1: time -60.5: must lie from -60 to 7200 s");
    // However long the line is, the message is short.
    assert!(message(&"9".repeat(100_000)).len() < 100);
    assert!(message(&"x".repeat(100_000)).len() < 100);
}

#[test]
fn lists_too_long_or_not_utf_8_are_refused() {
    let endless = std::io::Read::chain(&b"0 a\n"[..], std::io::repeat(b'#'));
    assert_eq!(
        read_marker_list(endless).unwrap_err().to_string(),
        "list too long: at most 1048576 bytes are read"
    );
    assert_eq!(read_marker_list(&b"0 a\n1 b\n2 \xff"[..]), Err(MarkerError::NotUtf8 { line: 3 }));
    assert_eq!(parse_marker_list(&"1\n".repeat(10_001)), Err(MarkerError::TooMany));
    assert_eq!(read_marker_list(&b"0:01 a"[..]), Ok(vec![marker(1.0, "a")]));
}

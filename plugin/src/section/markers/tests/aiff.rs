//! Markers of AIFF files.

use super::super::{Marker, MarkerError, read_aiff_markers, read_file_markers};
use super::marker;
use std::io::Cursor;

fn chunk(id: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let size = u32::try_from(body.len()).unwrap().to_be_bytes();
    let mut bytes = [id.as_slice(), &size, body].concat();
    bytes.resize(bytes.len().next_multiple_of(2), 0);
    bytes
}

/// 'COMM': stereo, 24 bits, 44 100 Hz (0xAC44 at the top of the mantissa, exponent 15).
fn common() -> Vec<u8> {
    let mut body = vec![0, 2, 0, 0, 0, 0, 0, 24];
    body.extend((16_383_u16 + 15).to_be_bytes());
    body.extend((0xAC44_u64 << 48).to_be_bytes());
    chunk(b"COMM", &body)
}

fn marks(marks: &[(u16, u32, &[u8])]) -> Vec<u8> {
    let mut body = u16::try_from(marks.len()).unwrap().to_be_bytes().to_vec();
    for (number, frame, name) in marks {
        body.extend(number.to_be_bytes());
        body.extend(frame.to_be_bytes());
        body.push(u8::try_from(name.len()).unwrap());
        body.extend(*name);
        body.resize(body.len().next_multiple_of(2), 0);
    }
    chunk(b"MARK", &body)
}

fn file(form: &[u8; 4], chunks: &[Vec<u8>]) -> Vec<u8> {
    chunk(b"FORM", &[form.as_slice(), &chunks.concat()].concat())
}

fn read(bytes: &[u8]) -> Result<Vec<Marker>, MarkerError> {
    read_aiff_markers(&mut Cursor::new(bytes))
}

#[test]
fn markers_come_in_order_of_time_with_names_of_odd_and_even_length() {
    let list = marks(&[
        (2, 441_000, "Réfrain".as_bytes()),
        (1, 0, b"Intro"),
        (3, 88_200, b"Verse1"),
        (4, 882_000, b""),
    ]);
    let names = [(0.0, "Intro"), (2.0, "Verse1"), (10.0, "Réfrain"), (20.0, "")];
    let expected: Vec<Marker> = names.map(|(at_s, name)| marker(at_s, name)).into();
    for form in [b"AIFF", b"AIFC"] {
        // Chunks may stand in any order.
        for chunks in [[common(), list.clone()], [list.clone(), common()]] {
            let bytes = file(form, &chunks);
            assert_eq!(read(&bytes), Ok(expected.clone()));
            assert_eq!(read_file_markers(&mut Cursor::new(bytes)), Ok(Some(expected.clone())));
        }
    }
}

#[test]
fn a_file_without_markers_has_none_and_markers_need_a_rate() {
    assert_eq!(read(&file(b"AIFF", &[common()])), Ok(Vec::new()));
    assert_eq!(read(&file(b"AIFF", &[marks(&[(1, 0, b"A")])])), Err(MarkerError::NoFormat));
    let zero = chunk(b"COMM", &[0; 18]);
    let bytes = file(b"AIFF", &[zero, marks(&[(1, 0, b"A")])]);
    assert_eq!(read(&bytes), Err(MarkerError::ZeroRate));
    for other in [&b""[..], b"FORM\0\0\0\x048SVX", b"RIFF\0\0\0\0WAVE", b"0:00 Intro"] {
        assert_eq!(read(other), Err(MarkerError::NotAiff), "{other:?}");
    }
    assert_eq!(read_file_markers(&mut Cursor::new(b"0:00 Intro")), Ok(None));
}

#[test]
fn a_cut_file_gives_the_markers_before_the_cut() {
    let bytes = file(b"AIFF", &[common(), marks(&[(1, 0, b"A"), (2, 44_100, b"Bridge")])]);
    for len in 12..bytes.len() {
        let found = read(&bytes[..len]);
        assert!(found.as_ref().is_ok_and(|found| found.len() <= 2), "{len}: {found:?}");
    }
    // The second name is cut in its middle: one byte of padding and four of its letters are gone.
    assert_eq!(read(&bytes[..bytes.len() - 5]), Ok(vec![marker(0.0, "A"), marker(1.0, "Br")]));
}

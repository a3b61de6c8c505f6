//! The tables, read by another reader of CSV.

use super::super::Document;
use super::super::testing::{NASTY, Song, any, empty};
use super::guarded;
use crate::section::testing::Dice;

fn read(text: &str) -> (Vec<String>, Vec<Vec<String>>) {
    let mut reader = csv::ReaderBuilder::new().flexible(false).from_reader(text.as_bytes());
    let row = |record: &csv::StringRecord| record.iter().map(str::to_owned).collect::<Vec<_>>();
    let header = row(reader.headers().unwrap());
    let rows = reader.records().map(|record| row(&record.unwrap())).collect();
    (header, rows)
}

#[test]
fn the_section_log_holds_the_figures_of_the_json_under_the_same_keys() {
    let mut dice = Dice(7);
    let snapshots = (0..30).map(|_| any(&mut dice)).chain([Song::new().snapshot(), empty()]);
    for snapshot in snapshots {
        let (header, rows) = read(&snapshot.sections_csv());
        let document = serde_json::to_value(Document::from(&snapshot)).unwrap();
        let sections = document["sections"].as_array().unwrap();
        assert_eq!(rows.len(), sections.len());
        for (row, section) in rows.iter().zip(sections) {
            for (key, cell) in header.iter().zip(row) {
                match key.as_str() {
                    "section_id" => assert_eq!(*cell, section["id"].to_string()),
                    "name" => assert_eq!(*cell, guarded(section["name"].as_str().unwrap())),
                    key => match section[key].as_f64() {
                        Some(number) => assert_eq!(cell.parse(), Ok(number), "{key}"),
                        None => assert!(cell.parse::<f64>().is_err(), "{key} {cell}"),
                    },
                }
            }
        }
    }
}

#[test]
fn the_series_holds_what_the_json_holds() {
    let mut dice = Dice(9);
    for snapshot in (0..20).map(|_| any(&mut dice)) {
        let (header, rows) = read(&snapshot.loudness_csv());
        assert_eq!(header[2], "momentary_lufs");
        let document = Document::from(&snapshot).series;
        assert_eq!(rows.len(), document.steps);
        for (index, row) in rows.iter().enumerate() {
            assert_eq!(row[2].parse().ok(), document.momentary_lufs[index]);
            assert_eq!(row[3].parse().ok(), document.short_term_lufs[index]);
            assert_eq!(row[4].parse().ok(), document.true_peak_dbtp[index]);
            assert_eq!(row[5].parse().ok(), document.playthrough[index]);
        }
    }
}

#[test]
fn lines_end_as_rfc_4180_says_and_all_have_as_many_cells() {
    let snapshot = Song::new().snapshot();
    for text in [snapshot.sections_csv(), snapshot.loudness_csv()] {
        assert!(text.ends_with("\r\n"));
        assert!(text.lines().count() > 2);
        assert_eq!(text.matches('\n').count(), text.matches("\r\n").count());
        assert!(!text.contains(",-0,") && text.is_ascii());
    }
}

#[test]
fn no_name_is_a_formula_and_every_name_is_read_as_it_was() {
    for name in NASTY.into_iter().chain(["+1", "-1", "＝x", "'already", "\ttab", "\rreturn"]) {
        let mut line = String::new();
        super::row(&mut line, [guarded(name), "next".into()]);
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(line.as_bytes());
        let record = reader.records().next().unwrap().unwrap();
        let read = &record[0];
        assert!(!read.starts_with(['=', '+', '-', '@', '＝', '\t', '\r', '\n']), "{read:?}");
        assert_eq!(read.strip_prefix('\'').unwrap_or(read), name);
        assert_eq!(&record[1], "next");
    }
}

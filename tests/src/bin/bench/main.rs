//! The bench: how fast the meters are, beside the general-purpose libraries that are installed.
//! `cargo xtask bench` builds and runs it.
//!
//! input (songs) → offline (one core), file (whole process), peers (the others) ┐
//!                 check (the program `plimsoll`)                               │
//!                 reader (figures after a change), frame (the editor), memory  ├→ table
//!                 work → instructions (the same under callgrind)               ┘
//!
//! Times on a machine that does other things too are only comparable if both sides meet the same
//! noise: rounds are interleaved, and each side's fastest round counts.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    clippy::indexing_slicing,
    reason = "frame counts stay far below 2^52; a panic here is a bench that does not run"
)]

mod check;
mod failure;
mod file;
mod frame;
mod input;
mod instructions;
mod machine;
mod memory;
mod offline;
mod peers;
mod reader;
mod table;
mod whole;
mod work;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use failure::{Failure, Outcome};
use table::Table;

const USAGE: &str = "bench --out FOLDER --check PROGRAM | bench instructions | bench file FILE.wav | \
                     bench reader | bench frame | bench memory SECONDS | bench work CASE";

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("bench: {failure}");
            ExitCode::FAILURE
        }
    }
}

fn run() -> Outcome<()> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    match words.as_slice() {
        ["--out", out, "--check", check] => everything(Path::new(out), Path::new(check)),
        // The rest is what the bench and the tests run in processes of their own.
        ["instructions"] => {
            println!("{}", instructions::json(&instructions::count()?));
            Ok(())
        }
        ["file", wav] => file::run(Path::new(wav)),
        ["reader"] => {
            let song = &input::songs()[0];
            let mut table = Table::new();
            reader::row(song, &mut table)?;
            reader::section_rows(song, &mut table)?;
            println!("{}", table.text());
            Ok(())
        }
        ["frame"] => {
            let mut table = Table::new();
            let song = &input::songs()[0];
            frame::row(song, &mut table);
            whole::row(song, &mut table)?;
            println!("{}", table.text());
            Ok(())
        }
        ["memory", seconds] => memory::run(seconds),
        ["work", case] => work::run(case),
        _ => Err(Failure::Usage(USAGE)),
    }
}

fn everything(out: &Path, check: &Path) -> Outcome<()> {
    std::fs::create_dir_all(out).map_err(Failure::io(out))?;
    let songs = input::songs();
    let mut table = Table::new();
    table.note(machine::line());
    offline::rows(&songs, out, &mut table)?;
    let wav = out.join("song.wav");
    file::write_song(&songs[0], &wav)?;
    file::rows(&songs[0], &wav, &mut table)?;
    check::rows(check, &wav, 60.0 * file::MINUTES as f64, out, &mut table)?;
    std::fs::remove_file(&wav).map_err(Failure::io(&wav))?;
    offline::length_row(&songs[0], &mut table);
    reader::row(&songs[0], &mut table)?;
    reader::section_rows(&songs[0], &mut table)?;
    frame::row(&songs[0], &mut table);
    whole::row(&songs[0], &mut table)?;
    memory::row(&mut table)?;
    match instructions::count() {
        Ok(counts) => instructions::rows(&counts, &mut table),
        Err(failure @ Failure::Missing { .. }) => table.note(failure.to_string()),
        Err(failure) => return Err(failure),
    }
    let text = table.text();
    println!("{text}");
    let path: PathBuf = out.join("table.txt");
    std::fs::write(&path, format!("{text}\n")).map_err(Failure::io(&path))?;
    println!("\nwritten to {}", path.display());
    Ok(())
}

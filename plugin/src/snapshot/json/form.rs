//! How the JSON is laid out: a key a line, arrays of numbers in one line.

use serde::Serialize;
use serde_json::ser::{Formatter, PrettyFormatter, Serializer};
use std::io::{Result, Write};

/// Objects as serde's pretty form has them, arrays as its compact one: a series of an hour is a
/// line and not 36 000 of them.
struct KeyALine(PrettyFormatter<'static>);

impl Formatter for KeyALine {
    fn begin_object<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.0.begin_object(writer)
    }

    fn end_object<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.0.end_object(writer)
    }

    fn begin_object_key<W: ?Sized + Write>(&mut self, writer: &mut W, first: bool) -> Result<()> {
        self.0.begin_object_key(writer, first)
    }

    fn begin_object_value<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.0.begin_object_value(writer)
    }

    fn end_object_value<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.0.end_object_value(writer)
    }
}

/// `document` as text, with a line feed at its end.
pub(super) fn written(document: &impl Serialize) -> String {
    let mut text = Vec::new();
    let formatter = KeyALine(PrettyFormatter::new());
    let done = document.serialize(&mut Serializer::with_formatter(&mut text, formatter));
    #[expect(
        clippy::expect_used,
        reason = "memory takes every byte, and every key of the document is a string"
    )]
    done.expect("a document of strings and numbers is JSON");
    text.push(b'\n');
    String::from_utf8_lossy(&text).into_owned()
}

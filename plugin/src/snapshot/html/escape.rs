//! Text into HTML.

use std::fmt;

/// Text that shows as it is, in an element or in a quoted attribute.
pub(crate) struct Escaped<'a>(&'a str);

/// Every name goes through here.
pub(crate) const fn esc(text: &str) -> Escaped<'_> {
    Escaped(text)
}

impl fmt::Display for Escaped<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for character in self.0.chars() {
            match character {
                '&' => f.write_str("&amp;")?,
                '<' => f.write_str("&lt;")?,
                '>' => f.write_str("&gt;")?,
                '"' => f.write_str("&quot;")?,
                '\'' => f.write_str("&#39;")?,
                // No such character may stand in a page; a parser would report an error.
                control if control.is_control() => f.write_str(" ")?,
                // What is no character in HTML: noncharacters of Unicode.
                '\u{fdd0}'..='\u{fdef}' => f.write_str("\u{fffd}")?,
                other if u32::from(other) & 0xfffe == 0xfffe => f.write_str("\u{fffd}")?,
                other => fmt::Write::write_char(f, other)?,
            }
        }
        Ok(())
    }
}

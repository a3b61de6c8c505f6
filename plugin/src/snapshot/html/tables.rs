//! The tables of the page.

mod arithmetic;
mod comparison;
mod peaks;
mod reference;
mod sections;
mod targets;
mod tone;

pub(super) use arithmetic::put_arithmetic;
pub(super) use comparison::put_comparison;
pub(super) use peaks::put_peaks;
pub(super) use reference::put_reference;
pub(super) use sections::put_sections;
pub(super) use targets::put_targets;
pub(super) use tone::put_tone;

use super::super::reason::Figure;
use super::append;
use std::fmt::Write;

/// A column: its name, its unit, and a class.
pub(crate) type Column = (&'static str, &'static str, &'static str);

/// Opens a section with its heading and a table with its head, which a narrow screen scrolls.
pub(crate) fn open(out: &mut String, id: &str, heading: &str, columns: &[Column]) {
    append!(
        out,
        "<section aria-labelledby=\"{id}\">\n<h2 id=\"{id}\">{heading}</h2>\n\
         <div class=\"wide-table\" role=\"group\" aria-labelledby=\"{id}\" tabindex=\"0\">\
         <table aria-labelledby=\"{id}\">\n<thead><tr>"
    );
    for (name, unit, class) in columns {
        let class = if class.is_empty() { String::new() } else { format!(" class=\"{class}\"") };
        append!(out, "<th scope=\"col\"{class}>{name}");
        if !unit.is_empty() {
            append!(out, "<small>{unit}</small>");
        }
        out.push_str("</th>");
    }
    out.push_str("</tr></thead>\n<tbody>\n");
}

/// Closes the table of [`open`].
pub(crate) fn close_table(out: &mut String) {
    out.push_str("</tbody></table></div>\n");
}

/// Closes the section of [`open`].
pub(crate) fn close_section(out: &mut String) {
    out.push_str("</section>\n");
}

/// A cell that holds HTML.
pub(crate) fn cell(out: &mut String, text: &str) {
    append!(out, "<td>{text}</td>");
}

/// Two decimals and a true minus sign: for what runs from −1 to 1.
fn two_decimals(figure: Figure) -> String {
    match figure {
        Ok(value) => {
            let text = format!("{:.2}", value.abs());
            if value < 0.0 && text != "0.00" { format!("−{text}") } else { text }
        }
        Err(reason) => reason.sign().to_owned(),
    }
}

//! The style sheet: the five roles of colour and what is laid over paper, by day, by night and in
//! print, then the rules, which know colours by role only.

use super::append;
use crate::palette::{DAY, NIGHT, Rgb, Roles};
use std::fmt::Write;

const RULES: &str = include_str!("style.css");

/// White paper: what a printer prints on.
const PRINT: Roles = Roles { paper: Rgb([0xFF, 0xFF, 0xFF]), ..DAY };

/// A colour that is laid over paper: its name, of which role it is, and how strongly.
type Laid = (&'static str, fn(&Roles) -> Rgb, f32);

/// All of them. The older surface is as pale as it can be and still stand out from paper.
const LAID: [Laid; 9] = [
    ("body", |roles| roles.water, 0.34),
    ("body-older", |roles| roles.water, 0.15),
    ("spray", |roles| roles.water, 0.15),
    ("spray-older", |roles| roles.water, 0.07),
    ("ripple", |roles| roles.water, 0.56),
    ("ripple-older", |roles| roles.water, 0.3),
    ("surface-older", |roles| roles.water, 0.78),
    ("band", |roles| roles.ink, 0.09),
    ("hairline", |roles| roles.line, 0.28),
];

/// All of it.
pub(super) fn sheet() -> String {
    let mut out = String::new();
    put_roles(&mut out, ":root", &DAY);
    out.push_str("@media (prefers-color-scheme: dark) {\n");
    put_roles(&mut out, ":root", &NIGHT);
    out.push_str("}\n@media print {\n");
    put_roles(&mut out, ":root", &PRINT);
    out.push_str("}\n");
    out.push_str(RULES);
    out
}

fn put_roles(out: &mut String, selector: &str, roles: &Roles) {
    append!(out, "{selector} {{");
    for (name, color) in [
        ("paper", roles.paper),
        ("ink", roles.ink),
        ("line", roles.line),
        ("water", roles.water),
        ("signal", roles.signal),
    ] {
        append!(out, " --{name}: {color};");
    }
    for (name, role, share) in LAID {
        append!(out, " --{name}: {};", role(roles).over(roles.paper, share));
    }
    out.push_str(" }\n");
}

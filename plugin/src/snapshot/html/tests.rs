//! The page, read by a parser of HTML: well-formed, safe, accessible.

use super::super::testing::{NASTY, Song, any, empty, full};
use super::super::text::one_line;
use super::super::{Snapshot, SnapshotSection};
use super::style;
use crate::palette::Rgb;
use crate::section::testing::{Dice, Sound};
use scraper::{ElementRef, Html, Selector};
use std::collections::{HashMap, HashSet};

fn parsed(page: &str) -> Html {
    let html = Html::parse_document(page);
    assert_eq!(html.errors, Vec::<String>::new());
    html
}

fn all<'a>(html: &'a Html, selector: &str) -> Vec<ElementRef<'a>> {
    html.select(&Selector::parse(selector).unwrap()).collect()
}

fn text(element: ElementRef) -> String {
    element.text().collect()
}

/// Everything that a page may be made of; nothing of it runs or fetches.
const ELEMENTS: [&str; 46] = [
    "html",
    "head",
    "meta",
    "title",
    "style",
    "body",
    "header",
    "main",
    "footer",
    "section",
    "div",
    "p",
    "b",
    "span",
    "small",
    "bdi",
    "h1",
    "h2",
    "dl",
    "dt",
    "dd",
    "ul",
    "li",
    "figure",
    "figcaption",
    "table",
    "thead",
    "tbody",
    "tr",
    "th",
    "td",
    "svg",
    "desc",
    "g",
    "path",
    "line",
    "rect",
    "text",
    "polygon",
    "defs",
    "pattern",
    "clipPath",
    "caption",
    "br",
    "sub",
    "sup",
];

fn assert_safe(html: &Html) {
    for element in all(html, "*") {
        let name = element.value().name();
        assert!(ELEMENTS.contains(&name), "<{name}>");
        for (attribute, value) in element.value().attrs() {
            assert!(!attribute.starts_with("on"), "{attribute}");
            assert!(!["src", "href", "style", "srcset", "action"].contains(&attribute));
            let outside = value.contains("http") || value.contains("//") || value.contains("url(");
            let inside = value.starts_with("url(#");
            assert!(!outside || inside, "{attribute}=\"{value}\"");
        }
    }
    let sheet: String = all(html, "style").into_iter().map(text).collect();
    assert!(!sheet.contains("http") && !sheet.contains("url(") && !sheet.contains("@import"));
}

#[test]
fn whatever_was_measured_and_however_it_is_called_the_page_is_well_formed_and_fetches_nothing() {
    let mut dice = Dice(31);
    let snapshots = (0..80).map(|_| any(&mut dice));
    for snapshot in snapshots.chain([Song::new().snapshot(), empty()]) {
        let page = snapshot.html();
        assert!(!page.to_lowercase().contains("<script"));
        assert!(!page.contains("http:") && !page.contains("https:"));
        assert_safe(&parsed(&page));
    }
}

#[test]
fn names_show_as_they_are() {
    for name in NASTY {
        let mut snapshot = Song::new().snapshot();
        snapshot.about.song = name.to_owned();
        snapshot.sections[0].section.name = name.to_owned();
        snapshot.targets[0].target.name = name.to_owned();
        snapshot.comparison.as_mut().unwrap().before.pinned_as = Some(name.to_owned());
        let html = parsed(&snapshot.html());
        assert_safe(&html);
        // What is no character in a page shows as the sign for that.
        let shown = one_line(name).replace('\u{fffe}', "\u{fffd}");
        let found: Vec<String> = all(&html, "bdi").into_iter().map(text).collect();
        let count = found.iter().filter(|text| **text == shown).count();
        assert!(count >= 4 || shown.is_empty(), "{shown:?}: {count} times in {found:?}");
        let title = all(&html, "title").into_iter().map(text).next().unwrap();
        let expected = if shown.is_empty() { "Mix bus" } else { &shown };
        assert_eq!(title, format!("{expected} – loudness snapshot"));
    }
}

#[test]
fn the_verdict_comes_first_and_figures_carry_their_units() {
    let snapshot = Song::new().snapshot();
    let html = parsed(&snapshot.html());
    let first = all(&html, "h2")[0];
    assert_eq!(text(first), "Not within target");
    let figures: Vec<String> = all(&html, "dl.figures dd").into_iter().map(text).collect();
    let whole = snapshot.whole.figures;
    assert_eq!(figures[0], whole.integrated.unwrap().to_string());
    assert!(figures[1].starts_with(&whole.max_true_peak.unwrap().to_string()), "{}", figures[1]);
    let sentence = text(all(&html, ".sentence")[0]);
    assert_eq!(sentence, snapshot.chosen_target().unwrap().distance.to_string());
    let body = text(html.root_element());
    assert!(body.contains("not sound pressure"));
    assert!(body.contains("recipient’s current specification decides"));
}

#[test]
fn tables_hold_every_section_and_the_highest_twenty_peaks() {
    let mut snapshot = Song::new().snapshot();
    let html = parsed(&snapshot.html());
    let rows =
        |html: &Html, id: &str| all(html, &format!("section[aria-labelledby={id}] tbody tr")).len();
    assert_eq!(rows(&html, "sections"), 2);
    assert!(snapshot.peaks.events().len() > 20);
    assert_eq!(rows(&html, "peaks"), 20);
    // The two sections were not played in both; only the whole was.
    assert_eq!(rows(&html, "comparison"), 1);
    assert!(text(html.root_element()).contains("Only the earlier one played: Verse."));
    assert_eq!(rows(&html, "targets"), snapshot.targets.len());
    let level = snapshot.sections[1].entry.measured.figures.integrated.unwrap();
    let cells: Vec<String> =
        all(&html, "section[aria-labelledby=sections] tbody tr:nth-child(2) td")
            .into_iter()
            .map(text)
            .collect();
    assert_eq!(format!("{} LUFS", cells[0]), level.to_string());
    assert_eq!(cells[1], "+5.0");
    snapshot.comparison = None;
    assert_eq!(rows(&parsed(&snapshot.html()), "comparison"), 0);
}

#[test]
fn headings_tables_and_pictures_are_named_for_those_who_do_not_see_them() {
    let mut dice = Dice(41);
    for snapshot in (0..20).map(|_| any(&mut dice)).chain([Song::new().snapshot()]) {
        let html = parsed(&snapshot.html());
        assert_eq!(html.root_element().value().attr("lang"), Some("en"));
        assert_eq!(all(&html, "h1").len(), 1);
        assert_eq!(all(&html, "main").len(), 1);
        let mut ids = HashSet::new();
        for element in all(&html, "[id]") {
            let id = element.value().attr("id").unwrap();
            assert!(ids.insert(id.to_owned()), "{id} twice");
        }
        for element in all(&html, "[aria-labelledby]") {
            for id in element.value().attr("aria-labelledby").unwrap().split(' ') {
                assert!(ids.contains(id), "no {id}");
            }
        }
        for head in all(&html, "th") {
            assert!(matches!(head.value().attr("scope"), Some("row" | "col")));
        }
        for table in all(&html, "table") {
            let columns = table.select(&Selector::parse("thead th").unwrap()).count();
            assert!(columns > 2 && table.value().attr("aria-labelledby").is_some());
            for row in table.select(&Selector::parse("tbody tr").unwrap()) {
                assert_eq!(row.child_elements().count(), columns);
                assert_eq!(row.child_elements().next().unwrap().value().name(), "th");
            }
        }
        let pictures = all(&html, "svg");
        assert_eq!(pictures.len(), if snapshot.extent.is_some() { 2 } else { 0 });
        for picture in pictures {
            assert_eq!(picture.value().attr("role"), Some("img"));
            let parts: Vec<_> =
                picture.child_elements().take(2).map(|part| part.value().name()).collect();
            assert_eq!(parts, ["title", "desc"]);
            let described = text(picture.child_elements().nth(1).unwrap());
            for SnapshotSection { section, .. } in &snapshot.sections {
                assert!(described.contains(&one_line(&section.name)));
            }
        }
    }
}

#[test]
fn the_strip_draws_what_it_should() {
    let song = Song::new();
    let html = parsed(&song.snapshot().html());
    let count = |selector: &str| all(&html, &format!("svg.wide {selector}")).len();
    // A gap has two shores; what the second playthrough did not touch is older.
    assert_eq!(count(".shore"), 2);
    assert_eq!(count("g.older"), 1);
    assert_eq!(count(".plateau"), 2);
    assert_eq!(count(".loadline") + count(".band"), 2);
    assert_eq!(count(".hatch.signal"), 0);

    let mut loud = Song::new();
    loud.tape.play(0..12_000, |_| Sound::at(-9.0).hop());
    let html = parsed(&loud.snapshot().html());
    assert_eq!(all(&html, "svg.wide .hatch.signal").len(), 1);
    let words: Vec<String> = all(&html, "svg.wide text.signal").into_iter().map(text).collect();
    assert!(words.contains(&"over".to_owned()), "{words:?}");
    assert_eq!(all(&html, "svg.wide .shore").len(), 0);
}

#[test]
fn nothing_leaves_the_drawing() {
    let mut dice = Dice(43);
    for snapshot in (0..40).map(|_| any(&mut dice)) {
        let html = parsed(&snapshot.html());
        for picture in all(&html, "svg") {
            let sizes: Vec<f64> = picture
                .value()
                .attr("viewBox")
                .unwrap()
                .split(' ')
                .map(|number| number.parse().unwrap())
                .collect();
            let within = |axis: &str, value: f64| {
                let end = if axis.starts_with('x') { sizes[2] } else { sizes[3] };
                assert!((0.0..=end).contains(&value), "{axis} {value}");
            };
            for element in picture.descendent_elements() {
                for axis in ["x", "y", "x1", "y1", "x2", "y2"] {
                    // A text that ends at its place may begin to the left of it.
                    if let Some(value) = element.value().attr(axis) {
                        within(axis, value.parse().unwrap());
                    }
                }
                for axis in ["width", "height"] {
                    if let Some(value) = element.value().attr(axis) {
                        assert!(value.parse::<f64>().unwrap() >= 0.0, "{axis} {value}");
                    }
                }
                let data = element.value().attr("d").unwrap_or_default();
                assert!(!data.contains("NaN") && !data.contains("inf"), "{data}");
            }
        }
    }
}

/// The colours of one scheme, by the names that the style sheet gives them.
fn schemes(sheet: &str) -> Vec<HashMap<String, Rgb>> {
    let blocks = sheet.split(":root {").skip(1);
    blocks
        .map(|block| {
            let block = block.split('}').next().unwrap();
            let pairs = block.split(';').filter_map(|pair| pair.trim().split_once(": #"));
            pairs
                .map(|(name, hex)| {
                    let part = |at: usize| u8::from_str_radix(&hex[at..at + 2], 16).unwrap();
                    (name.trim_start_matches("--").to_owned(), Rgb([part(0), part(2), part(4)]))
                })
                .collect()
        })
        .collect()
}

/// The roles that a property of the rules takes colours from.
fn roles_of(rules: &str, property: &str) -> HashSet<String> {
    let declarations = rules.split(['{', ';']).map(str::trim);
    declarations
        .filter_map(|declaration| declaration.strip_prefix(property)?.strip_prefix(": var(--"))
        .map(|role| role.trim_end_matches([')', ' ', '}']).to_owned())
        .collect()
}

#[test]
fn contrast_meets_wcag_aa_by_day_by_night_and_in_print() {
    let sheet = style::sheet();
    let schemes = schemes(&sheet);
    assert_eq!(schemes.len(), 3);
    let text_roles = roles_of(&sheet, "color");
    assert_eq!(text_roles, ["ink", "line", "water", "signal"].map(str::to_owned).into());
    // Text stands on paper alone, in the strip too: there it has a rim of paper.
    assert_eq!(roles_of(&sheet, "background"), HashSet::from(["paper".to_owned()]));
    for colors in schemes {
        let contrast = |a: &str, b: &str| colors[a].contrast(colors[b]);
        // Success criterion 1.4.3: 4.5 to 1 for text.
        for role in &text_roles {
            let ratio = contrast(role, "paper");
            assert!(ratio >= 4.5, "{role}: {ratio:.2}");
        }
        // Success criterion 1.4.11: 3 to 1 for what must be seen to understand the strip.
        for role in ["water", "surface-older", "ink", "line", "signal"] {
            let ratio = contrast(role, "paper");
            assert!(ratio >= 3.0, "{role} on paper: {ratio:.2}");
        }
        for role in ["ink", "signal"] {
            for under in ["body", "body-older", "spray", "band"] {
                let ratio = contrast(role, under);
                assert!(ratio >= 3.0, "{role} on {under}: {ratio:.2}");
            }
        }
    }
}

#[test]
fn rules_know_colours_by_their_roles_only() {
    let rules = style::sheet();
    let rules = rules.rsplit_once("@media print {\n:root").unwrap().1.split_once('}').unwrap().1;
    assert!(!rules.contains('#') && !rules.contains("rgb") && !rules.contains("hsl"));
    let known: HashSet<String> = schemes(&style::sheet())[0].keys().cloned().collect();
    let used = rules.split("var(--").skip(1).map(|rest| rest.split(')').next().unwrap());
    for role in used {
        assert!(known.contains(role), "{role}");
    }
}

#[test]
fn a_verdict_within_target_is_told_once() {
    let mut song = Song::new();
    song.tape.play(0..12_000, |_| Sound { peak_dbtp: -3.0, ..Sound::at(-14.3) }.hop());
    let snapshot: Snapshot = song.snapshot();
    let html = parsed(&snapshot.html());
    assert_eq!(text(all(&html, "h2")[0]), "Within target");
    assert_eq!(text(all(&html, ".sentence")[0]), "0.3 LU below the load line.");
    assert_eq!(all(&html, ".verdict.within").len(), 1);
}

/// Every state of the page is written; with `PLIMSOLL_PAGES` into that folder, to be looked at.
#[test]
fn every_state_of_the_page_is_a_page() {
    let folder = std::env::var_os("PLIMSOLL_PAGES").map(std::path::PathBuf::from);
    let mut partly = Song::new().snapshot();
    partly.chosen = None;
    for (name, snapshot) in [
        ("full", full(0.0).snapshot()),
        ("loud", full(5.0).snapshot()),
        ("partly", partly),
        ("empty", empty()),
    ] {
        let html = snapshot.html();
        assert_eq!(all(&parsed(&html), "h1").len(), 1, "{name}");
        if let Some(folder) = &folder {
            std::fs::write(folder.join(format!("{name}.html")), html).unwrap();
        }
    }
}

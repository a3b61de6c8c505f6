//! The table.

/// One measurement.
pub struct Row {
    /// What was measured.
    pub what: String,
    /// Our figure, with its unit.
    pub ours: String,
    /// The other side's, or what ours is held against.
    pub theirs: String,
    /// How much better we are.
    pub ratio: String,
    /// What must be reached, and the aim.
    pub required: &'static str,
    /// Whether what must be reached is; `None` where nothing must.
    pub verdict: Option<Verdict>,
}

/// A figure and what it must be.
#[derive(Debug, Clone, Copy)]
pub enum Verdict {
    /// At least `must`.
    AtLeast {
        /// What was found.
        found: f64,
        /// What it must be.
        must: f64,
    },
    /// At most `must`.
    AtMost {
        /// What was found.
        found: f64,
        /// What it must be.
        must: f64,
    },
}

impl Verdict {
    fn text(self) -> String {
        let (is_met, found, must) = match self {
            Self::AtLeast { found, must } => (found >= must, found, must),
            Self::AtMost { found, must } => (found <= must, found, must),
        };
        if is_met {
            MET.to_owned()
        } else {
            format!("missed by {:.1} %", (found / must - 1.0).abs() * 100.0)
        }
    }
}

const MET: &str = "met";

/// Rows under their heads, and notes under those.
pub struct Table {
    rows: Vec<[String; 6]>,
    notes: Vec<String>,
}

impl Table {
    /// Heads only.
    pub fn new() -> Self {
        let heads = ["", "Plimsoll", "other", "ratio", "", "required"];
        Self { rows: vec![heads.map(str::to_owned)], notes: Vec::new() }
    }

    /// Adds a row.
    pub fn row(&mut self, row: Row) {
        let required = row.required.to_owned();
        let verdict = row.verdict.map_or_else(String::new, Verdict::text);
        self.rows.push([row.what, row.ours, row.theirs, row.ratio, verdict, required]);
    }

    /// Adds a note.
    pub fn note(&mut self, note: impl Into<String>) {
        self.notes.push(note.into());
    }

    /// The table as aligned text.
    pub fn text(&self) -> String {
        let width = |column: usize| {
            let cells = self.rows.iter().map(|row| row[column].chars().count());
            cells.max().unwrap_or(0)
        };
        let widths: [usize; 6] = std::array::from_fn(width);
        let mut text = String::new();
        for row in &self.rows {
            let [what, ours, theirs, ratio, verdict, required] = row;
            let [w0, w1, w2, w3, w4, _] = widths;
            let line = format!(
                "{what:w0$}  {ours:>w1$}  {theirs:>w2$}  {ratio:>w3$}  {verdict:w4$}  {required}"
            );
            text.push_str(line.trim_end());
            text.push('\n');
        }
        for note in &self.notes {
            text.push_str("\n- ");
            text.push_str(note);
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_line_up_and_notes_follow() {
        let mut table = Table::new();
        let cells = ["longer than its head", "1.0 ns", "12.0 ns", "12.0x"].map(str::to_owned);
        let [what, ours, theirs, ratio] = cells;
        let verdict = Some(Verdict::AtLeast { found: 12.0, must: 12.0 });
        table.row(Row { what, ours, theirs, ratio, required: "must 12x", verdict });
        table.note("a note");
        let text = table.text();
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines[0].find("required"), lines[1].find("must"));
        assert_eq!(lines.last(), Some(&"- a note"));
        assert!(lines[1].contains("12.0x  met  must"), "{text}");
    }

    #[test]
    fn what_is_missed_says_by_how_much() {
        let least = |found| Verdict::AtLeast { found, must: 25.0 }.text();
        assert_eq!([least(25.0), least(22.5)], ["met", "missed by 10.0 %"]);
        let most = |found| Verdict::AtMost { found, must: 32.0 }.text();
        assert_eq!([most(32.0), most(40.0)], ["met", "missed by 25.0 %"]);
    }
}

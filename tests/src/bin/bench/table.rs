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
}

/// Rows under their heads, and notes under those.
pub struct Table {
    rows: Vec<[String; 5]>,
    notes: Vec<String>,
}

impl Table {
    /// Heads only.
    pub fn new() -> Self {
        let heads = ["", "Plimsoll", "other", "ratio", "required"];
        Self { rows: vec![heads.map(str::to_owned)], notes: Vec::new() }
    }

    /// Adds a row.
    pub fn row(&mut self, row: Row) {
        let required = row.required.to_owned();
        self.rows.push([row.what, row.ours, row.theirs, row.ratio, required]);
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
        let widths: [usize; 5] = std::array::from_fn(width);
        let mut text = String::new();
        for row in &self.rows {
            let [what, ours, theirs, ratio, required] = row;
            let [w0, w1, w2, w3, _] = widths;
            let line = format!("{what:w0$}  {ours:>w1$}  {theirs:>w2$}  {ratio:>w3$}  {required}");
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
        table.row(Row { what, ours, theirs, ratio, required: "must 12x" });
        table.note("a note");
        let text = table.text();
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines[0].find("required"), lines[1].find("must"));
        assert_eq!(lines.last(), Some(&"- a note"));
    }
}

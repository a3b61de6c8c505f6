//! Colours of the text, where it is read on a terminal. Nothing is told by colour alone.

/// How text is marked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Style {
    coloured: bool,
}

impl Style {
    /// Plain text.
    pub const PLAIN: Self = Self { coloured: false };

    /// Coloured on a terminal, unless NO_COLOR is set (no-color.org: to anything but nothing) or
    /// the terminal is dumb.
    #[must_use]
    pub fn of(is_terminal: bool) -> Self {
        let is_set = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
        let is_dumb = std::env::var_os("TERM").is_some_and(|value| value == "dumb");
        Self { coloured: is_terminal && !is_set && !is_dumb }
    }

    /// A headline.
    #[must_use]
    pub fn strong(self, text: &str) -> String {
        self.wrap(text, "1")
    }

    /// What is beside the point.
    #[must_use]
    pub fn faint(self, text: &str) -> String {
        self.wrap(text, "2")
    }

    /// What is to be looked at: the orange of the load line.
    #[must_use]
    pub fn alert(self, text: &str) -> String {
        self.wrap(text, "38;5;208")
    }

    fn wrap(self, text: &str, code: &str) -> String {
        if self.coloured { format!("\x1b[{code}m{text}\x1b[0m") } else { text.to_owned() }
    }
}

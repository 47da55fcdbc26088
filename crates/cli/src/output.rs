//! Output: tables and JSON on standard output, messages on standard error.

use std::io::{self, IsTerminal, Write};

use serde_json::Value;

use crate::failure::Failure;
use crate::json::{self, Printed};

/// Widest line of a page, also on a wider terminal and where there is none.
const WIDEST: usize = 100;
/// Widest line of a list, also where there is no terminal.
const WIDEST_LIST: usize = 160;
/// Narrowest line a page is laid out for.
const NARROWEST: usize = 60;

/// How a page is laid out.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Layout {
    /// Characters of a line on a page.
    pub(crate) width: usize,
    /// Characters of a line in a list.
    pub(crate) list_width: usize,
    /// True on a terminal that takes bold and faint text.
    pub(crate) is_styled: bool,
}

impl Layout {
    /// A page as tests compare it.
    #[cfg(test)]
    pub(crate) const PLAIN: Self = Self { width: WIDEST, list_width: WIDEST, is_styled: false };

    /// A headline.
    pub(crate) fn strong(self, text: &str) -> String {
        self.marked("1", text)
    }

    /// What may be overlooked.
    pub(crate) fn faint(self, text: &str) -> String {
        self.marked("2", text)
    }

    fn marked(self, code: &str, text: &str) -> String {
        if self.is_styled { format!("\u{1b}[{code}m{text}\u{1b}[0m") } else { text.to_owned() }
    }

    /// Styled on a terminal, or when CLICOLOR_FORCE is set; never when NO_COLOR is set.
    fn of_stdout() -> Self {
        let is_set =
            |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty() && value != "0");
        let is_styled = !is_set("NO_COLOR") && (io::stdout().is_terminal() || is_set("CLICOLOR_FORCE"));
        let columns = terminal_size::terminal_size_of(io::stdout()).map(|(width, _)| usize::from(width.0));
        let width = columns.map_or(WIDEST, |columns| columns.clamp(NARROWEST, WIDEST));
        let list_width = columns.map_or(WIDEST_LIST, |columns| columns.clamp(NARROWEST, WIDEST_LIST));
        Self { width, list_width, is_styled }
    }
}

/// Where a command writes.
pub(crate) struct Output {
    /// True when answers are printed as JSON.
    pub(crate) is_json: bool,
    /// How pages are laid out.
    pub(crate) layout: Layout,
    stdout: Box<dyn Write + Send>,
    stderr: Box<dyn Write + Send>,
}

impl Output {
    /// The standard streams of the process.
    pub(crate) fn standard(is_json: bool) -> Self {
        Self {
            is_json,
            layout: Layout::of_stdout(),
            stdout: Box::new(io::stdout()),
            stderr: Box::new(io::stderr()),
        }
    }

    /// An answer: as JSON, or as the page that `page` makes of it.
    pub(crate) fn show<M: Printed>(
        &mut self,
        message: &M,
        page: impl FnOnce(&M, Layout) -> String,
    ) -> Result<(), Failure> {
        if self.is_json { self.json(&json::value(message)?) } else { self.page(&page(message, self.layout)) }
    }

    /// A page, written as it is.
    pub(crate) fn page(&mut self, page: &str) -> Result<(), Failure> {
        self.stdout.write_all(page.as_bytes())?;
        Ok(self.stdout.flush()?)
    }

    /// JSON of our own making.
    pub(crate) fn json(&mut self, value: &Value) -> Result<(), Failure> {
        serde_json::to_writer_pretty(&mut self.stdout, value).map_err(io::Error::from)?;
        self.page("\n")
    }

    /// A message to the person at the terminal. That it cannot be written stops nothing.
    pub(crate) fn say(&mut self, message: &str) {
        drop(writeln!(self.stderr, "{message}"));
    }

    /// What went wrong.
    pub(crate) fn fail(&mut self, failure: &Failure) {
        let text =
            if self.is_json { format!("{:#}", failure.to_json()) } else { failure.page(self.layout.width) };
        self.say(text.trim_end());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_pages_have_no_escapes() {
        assert_eq!(Layout::PLAIN.strong("x"), "x");
        let styled = Layout { is_styled: true, ..Layout::PLAIN };
        assert_eq!(styled.faint("x"), "\u{1b}[2mx\u{1b}[0m");
    }
}

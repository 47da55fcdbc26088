//! Ods: workbooks of OpenDocument (ODF 1.2), row by row.

use std::borrow::Cow;
use std::collections::BTreeSet;
use std::mem;
use std::ops::ControlFlow;

use nextrung_domain::date::CivilDate;
use quick_xml::events::BytesStart;

use crate::grid::cap::{LAST_ROW, MAX_COLUMNS, MAX_SHEETS};
use crate::grid::merge::{Merges, Span};
use crate::grid::part::{Archive, Part, Piece, attribute, number_attribute};
use crate::grid::place::{Fault, cell_name};
use crate::grid::text::{check_size, too_wide};
use crate::grid::value::Value;
use crate::grid::{GridRow, OnRow, SheetName};

/// The part that holds every sheet.
const CONTENT: &str = "content.xml";

/// A workbook, its sheets not yet read.
pub(crate) struct Ods<'b> {
    archive: Archive<'b>,
    sheets: Vec<SheetName>,
}

impl<'b> Ods<'b> {
    /// Reads the names of the sheets.
    pub(crate) fn open(mut archive: Archive<'b>) -> Result<Self, Fault> {
        let mut sheets = Vec::new();
        let mut hidden: BTreeSet<String> = BTreeSet::new();
        let mut style = String::new();
        let mut part = content(&mut archive)?;
        loop {
            match part.next()? {
                Piece::Open(tag) => match tag.local_name().as_ref() {
                    "style" => style = attribute(&tag, "name")?.unwrap_or_default().into_owned(),
                    "table-properties" if attribute(&tag, "display")?.as_deref() == Some("false") => {
                        hidden.insert(mem::take(&mut style));
                    }
                    "table" => {
                        let name = attribute(&tag, "name")?.unwrap_or_default().into_owned();
                        let look = attribute(&tag, "style-name")?.unwrap_or_default();
                        sheets.push(SheetName { name, is_hidden: hidden.contains(look.as_ref()) });
                    }
                    _ => {}
                },
                Piece::End => break,
                Piece::Close(_) | Piece::Text(_) => {}
            }
            if sheets.len() > MAX_SHEETS || hidden.len() > MAX_SHEETS {
                return Err(Fault::new(
                    format!("more than {MAX_SHEETS} sheets"),
                    "a workbook with fewer sheets",
                ));
            }
        }
        drop(part);
        if sheets.is_empty() {
            return Err(Fault::new("a document without sheets", "a workbook in xlsx or ods, or CSV"));
        }
        Ok(Self { archive, sheets })
    }

    pub(crate) fn sheets(&self) -> Vec<SheetName> {
        self.sheets.clone()
    }

    pub(crate) fn walk(&self, sheet: usize, on_row: OnRow<'_>) -> Result<(), Fault> {
        let mut archive = self.archive.clone();
        let mut part = content(&mut archive)?;
        let mut walk = Walk { merges: Merges::new(Vec::new())?, ..Walk::default() };
        let mut table = 0;
        loop {
            match part.next()? {
                Piece::Open(tag) if tag.local_name().as_ref() == "table" => table += 1,
                Piece::Open(tag) if table == sheet + 1 => walk.open(&tag)?,
                Piece::Text(text) => walk.add_text(&text),
                Piece::Close(tag) if table == sheet + 1 => match tag.local_name().as_ref() {
                    "table" => return Ok(()),
                    "annotation" => walk.in_annotation = false,
                    "p" => walk.in_paragraph = false,
                    "table-cell" | "covered-table-cell" => walk.close_cell()?,
                    "table-row" if walk.close_row(on_row)? == ControlFlow::Break(()) => return Ok(()),
                    _ => {}
                },
                Piece::End => return Err(Fault::new("no such sheet", "a sheet of the workbook")),
                Piece::Open(_) | Piece::Close(_) => {}
            }
        }
    }
}

fn content<'a>(archive: &'a mut Archive<'_>) -> Result<Part<'a>, Fault> {
    Part::open(archive, CONTENT)?.ok_or_else(|| Fault::new("no content", "a workbook in ods"))
}

/// The cell that is being read.
#[derive(Debug, Default)]
struct Cell {
    repeats: usize,
    rows_spanned: u32,
    kind: String,
    value: Option<String>,
    is_error: bool,
    has_formula: bool,
    paragraphs: usize,
    text: String,
}

#[derive(Default)]
struct Walk {
    merges: Merges,
    /// The last row that is read.
    row: u32,
    repeats: u32,
    is_hidden: bool,
    column: usize,
    cells: Vec<Value<'static>>,
    spans: Vec<Span>,
    carried: Vec<usize>,
    filled: usize,
    cell: Cell,
    in_paragraph: bool,
    in_annotation: bool,
}

/// The days of a span such as `PT18H30M00S`; of anything else 0, since it is only shown.
fn days_of(span: &str) -> f64 {
    let mut seconds = 0.0;
    let mut digits = String::new();
    for sign in span.chars() {
        let unit = match sign {
            'H' => 3600.0,
            'M' => 60.0,
            'S' => 1.0,
            _ => {
                digits.push(sign);
                continue;
            }
        };
        seconds += unit * digits.trim_start_matches(['P', 'T']).parse::<f64>().unwrap_or(0.0);
        digits.clear();
    }
    seconds / 86_400.0
}

impl Walk {
    fn takes_text(&self) -> bool {
        self.in_paragraph && !self.in_annotation
    }

    fn add_text(&mut self, text: &str) {
        if self.takes_text() {
            self.cell.text.push_str(text);
        }
    }

    fn open(&mut self, tag: &BytesStart<'_>) -> Result<(), Fault> {
        match tag.local_name().as_ref() {
            "table-row" => {
                self.repeats = number_attribute(tag, "number-rows-repeated")?.unwrap_or(1);
                let look = attribute(tag, "visibility")?;
                self.is_hidden = look.is_some_and(|look| look != "visible");
                (self.column, self.in_paragraph) = (0, false);
                self.cells.clear();
                self.spans.clear();
            }
            "table-cell" | "covered-table-cell" => self.open_cell(tag)?,
            "annotation" => self.in_annotation = true,
            "p" if !self.in_annotation => {
                if self.cell.paragraphs > 0 {
                    self.cell.text.push('\n');
                }
                self.cell.paragraphs += 1;
                self.in_paragraph = true;
            }
            "s" => {
                let count: usize = number_attribute(tag, "c")?.unwrap_or(1);
                self.add_text(&" ".repeat(count.min(1000)));
            }
            "tab" => self.add_text("\t"),
            "line-break" => self.add_text("\n"),
            _ => {}
        }
        Ok(())
    }

    fn open_cell(&mut self, tag: &BytesStart<'_>) -> Result<(), Fault> {
        let owned = |name| attribute(tag, name).map(|value| value.map(Cow::into_owned));
        self.cell = Cell {
            repeats: number_attribute(tag, "number-columns-repeated")?.unwrap_or(1),
            rows_spanned: number_attribute(tag, "number-rows-spanned")?.unwrap_or(1),
            kind: String::new(),
            value: None,
            is_error: false,
            has_formula: owned("formula")?.is_some(),
            paragraphs: 0,
            text: String::new(),
        };
        // Two attributes may be called `value-type`, one of the standard and one of a program that marks errors.
        for attribute in tag.attributes().with_checks(false).flatten() {
            if attribute.key.local_name().as_ref() == "value-type" {
                match attribute.value.as_ref() {
                    "error" => self.cell.is_error = true,
                    kind => kind.clone_into(&mut self.cell.kind),
                }
            }
        }
        self.cell.value = match self.cell.kind.as_str() {
            "float" | "percentage" | "currency" => owned("value")?,
            "date" => owned("date-value")?,
            "time" => owned("time-value")?,
            "boolean" => owned("boolean-value")?,
            _ => owned("string-value")?,
        };
        Ok(())
    }

    fn value(&mut self) -> Result<Value<'static>, Fault> {
        let cell = &mut self.cell;
        let text = mem::take(&mut cell.text);
        let text = match (&cell.value, cell.kind.as_str()) {
            (Some(value), "string") if !cell.is_error => value.clone(),
            _ => text,
        };
        if cell.is_error {
            return Ok(Value::Error(Cow::Owned(text)));
        }
        let given = cell.value.as_deref().unwrap_or_default();
        Ok(match cell.kind.as_str() {
            "" if cell.has_formula && text.is_empty() => Value::Uncalculated,
            "" | "string" => Value::Text(Cow::Owned(text)),
            "boolean" => Value::Truth(given == "true"),
            // As people see it: a tenth that is shown as `10%` is no tenth of a kilogram.
            "percentage" => Value::Text(Cow::Owned(text)),
            "time" => Value::Time(days_of(given)),
            "date" => match CivilDate::parse(given.get(..10).unwrap_or(given)) {
                Ok(day) => Value::Day(day),
                Err(_) => Value::Text(Cow::Owned(given.to_owned())),
            },
            _ => match given.parse::<f64>().ok().filter(|number| number.is_finite()) {
                Some(number) => Value::Number(number),
                None => {
                    let fault =
                        Fault::new(format!("the value `{given:.40}`"), "a number; save the workbook anew");
                    return Err(fault.at(cell_name(self.column, self.row + 1)));
                }
            },
        })
    }

    fn close_cell(&mut self) -> Result<(), Fault> {
        let value = self.value()?;
        let (from, repeats) = (self.column, self.cell.repeats);
        self.column = self.column.saturating_add(repeats);
        self.in_paragraph = false;
        if value.is_blank() {
            return Ok(());
        }
        let row = self.row + 1;
        if self.column > MAX_COLUMNS {
            return Err(too_wide(from.max(MAX_COLUMNS), row));
        }
        self.cells.resize(from, Value::Empty);
        self.cells.resize(self.column, value);
        if self.cell.rows_spanned > 1 {
            let last_row = row.saturating_add(self.cell.rows_spanned - 1);
            self.spans.push(Span { first_row: row, column: from, last_row });
        }
        Ok(())
    }

    fn close_row(&mut self, on_row: OnRow<'_>) -> Result<ControlFlow<()>, Fault> {
        let end = self.row.saturating_add(self.repeats.max(1));
        let is_blank = self.cells.iter().all(Value::is_blank);
        if end > LAST_ROW && !is_blank {
            let expected = format!("at most {LAST_ROW} rows");
            return Err(Fault::new("a row too many", expected).at(format!("row {end}")));
        }
        self.spans.drain(..).for_each(|span| self.merges.add(span));
        let plain = self.cells.len();
        while self.row < end {
            self.row += 1;
            self.cells.truncate(plain);
            self.merges.carry(self.row, &mut self.cells, &mut self.carried);
            let flow = self.give(on_row)?;
            for column in &self.carried {
                self.cells[*column] = Value::Empty;
            }
            if flow == ControlFlow::Break(()) {
                return Ok(flow);
            }
            // Nothing can stand in the rest of a blank stretch but what is carried.
            if is_blank && self.carried.is_empty() {
                self.row = end;
            }
        }
        Ok(ControlFlow::Continue(()))
    }

    fn give(&mut self, on_row: OnRow<'_>) -> Result<ControlFlow<()>, Fault> {
        if self.cells.iter().all(Value::is_blank) {
            return Ok(ControlFlow::Continue(()));
        }
        self.filled += 1;
        check_size(self.row, &self.cells, self.filled)?;
        Ok(on_row(&GridRow {
            number: self.row,
            cells: &self.cells,
            carried: &self.carried,
            is_hidden: self.is_hidden,
            fault: None,
        }))
    }
}

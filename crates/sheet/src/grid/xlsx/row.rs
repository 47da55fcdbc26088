//! Row: the rows and cells of one sheet of a workbook.

use std::borrow::Cow;
use std::mem;
use std::ops::ControlFlow;

use nextrung_domain::date::CivilDate;
use quick_xml::events::BytesStart;

use super::Xlsx;
use crate::grid::cap::{LAST_ROW, MAX_COLUMNS};
use crate::grid::merge::Merges;
use crate::grid::part::{Part, Piece, attribute, number_attribute};
use crate::grid::place::{Fault, cell_name, cell_of};
use crate::grid::text::{check_size, too_wide};
use crate::grid::value::{Value, day_of_count};
use crate::grid::xlsx_style::Shown;
use crate::grid::{GridRow, OnRow};

/// What kind of value a cell says it has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Kind {
    #[default]
    Number,
    Shared,
    Truth,
    Error,
    Text,
    IsoDay,
}

/// Where the text that is read belongs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Within {
    #[default]
    Nothing,
    Value,
    Inline,
}

/// The cell that is being read.
#[derive(Debug, Default)]
struct Cell {
    column: usize,
    kind: Kind,
    format: usize,
    has_formula: bool,
    has_value: bool,
    is_inline: bool,
    text: String,
}

struct Walk<'s> {
    book: &'s Xlsx<'s>,
    merges: Merges,
    row: u32,
    is_hidden: bool,
    next_column: usize,
    cells: Vec<Value<'s>>,
    carried: Vec<usize>,
    filled: usize,
    cell: Cell,
    within: Within,
    is_phonetic: bool,
}

/// Walks over the filled rows of a sheet.
pub(super) fn walk(
    book: &Xlsx<'_>,
    part: &mut Part<'_>,
    merges: Merges,
    on_row: OnRow<'_>,
) -> Result<(), Fault> {
    let mut walk = Walk {
        book,
        merges,
        row: 0,
        is_hidden: false,
        next_column: 0,
        cells: Vec::new(),
        carried: Vec::new(),
        filled: 0,
        cell: Cell::default(),
        within: Within::Nothing,
        is_phonetic: false,
    };
    loop {
        match part.next()? {
            Piece::Open(tag) => walk.open(&tag)?,
            Piece::Text(text) => walk.add_text(&text),
            Piece::Close(tag) => match tag.local_name().as_ref() {
                "v" | "t" => walk.within = Within::Nothing,
                "rPh" => walk.is_phonetic = false,
                "c" => walk.close_cell()?,
                "row" if walk.close_row(on_row)? == ControlFlow::Break(()) => return Ok(()),
                "sheetData" => return Ok(()),
                _ => {}
            },
            Piece::End => {
                let expected = "a whole workbook; open it in a spreadsheet program and save it anew";
                return Err(Fault::new("a sheet that ends within its rows", expected));
            }
        }
    }
}

impl<'s> Walk<'s> {
    fn open(&mut self, tag: &BytesStart<'_>) -> Result<(), Fault> {
        match tag.local_name().as_ref() {
            "row" => self.open_row(tag)?,
            "c" => self.open_cell(tag)?,
            "f" => self.cell.has_formula = true,
            "v" if !self.cell.is_inline => {
                self.within = Within::Value;
                // A formula that came to no text at all has a value too.
                self.cell.has_value |= self.cell.kind == Kind::Text;
            }
            "is" => (self.cell.is_inline, self.cell.has_value) = (true, true),
            "t" if self.cell.is_inline => self.within = Within::Inline,
            "rPh" => self.is_phonetic = true,
            _ => {}
        }
        Ok(())
    }

    fn add_text(&mut self, text: &str) {
        if self.within != Within::Nothing && !self.is_phonetic {
            self.cell.text.push_str(text);
            self.cell.has_value = true;
        }
    }

    fn open_row(&mut self, tag: &BytesStart<'_>) -> Result<(), Fault> {
        let row = number_attribute(tag, "r")?.unwrap_or(self.row.saturating_add(1));
        if row <= self.row || row > LAST_ROW {
            let expected = format!("rows in rising order, at most {LAST_ROW}");
            return Err(Fault::new(format!("row {row} after row {}", self.row), expected));
        }
        self.row = row;
        self.is_hidden = attribute(tag, "hidden")?.is_some_and(|flag| matches!(flag.as_ref(), "1" | "true"));
        self.next_column = 0;
        self.cells.clear();
        Ok(())
    }

    fn open_cell(&mut self, tag: &BytesStart<'_>) -> Result<(), Fault> {
        let mut cell =
            Cell { text: mem::take(&mut self.cell.text), column: self.next_column, ..Cell::default() };
        cell.text.clear();
        if let Some(name) = attribute(tag, "r")? {
            let place = cell_of(&name).filter(|(_, row)| *row == self.row);
            let bad =
                || Fault::new(format!("the cell name `{name:.20}` in row {}", self.row), "a cell of its row");
            cell.column = place.ok_or_else(bad)?.0;
        }
        if cell.column < self.next_column {
            let found = format!("the cell {} out of order", cell_name(cell.column, self.row));
            return Err(Fault::new(found, "cells from left to right, each once"));
        }
        self.next_column = cell.column + 1;
        cell.format = number_attribute(tag, "s")?.unwrap_or(0);
        cell.kind = match attribute(tag, "t")?.as_deref() {
            None | Some("n") => Kind::Number,
            Some("s") => Kind::Shared,
            Some("b") => Kind::Truth,
            Some("e") => Kind::Error,
            Some("str" | "inlineStr") => Kind::Text,
            Some("d") => Kind::IsoDay,
            Some(other) => {
                return Err(
                    self.bad_value(&format!("the kind `{other:.20}`"), "a kind of cell that is known")
                );
            }
        };
        self.cell = cell;
        Ok(())
    }

    fn close_cell(&mut self) -> Result<(), Fault> {
        let value = self.value()?;
        let column = self.cell.column;
        self.cell.is_inline = false;
        if matches!(value, Value::Empty) {
            return Ok(());
        }
        if column >= MAX_COLUMNS {
            return if value.is_blank() { Ok(()) } else { Err(too_wide(column, self.row)) };
        }
        self.cells.resize(column, Value::Empty);
        self.cells.push(value);
        Ok(())
    }

    fn value(&self) -> Result<Value<'s>, Fault> {
        let text = self.cell.text.as_str();
        if !self.cell.has_value {
            return Ok(if self.cell.has_formula { Value::Uncalculated } else { Value::Empty });
        }
        let owned = || Value::Text(Cow::Owned(text.to_owned()));
        if self.cell.is_inline {
            return Ok(owned());
        }
        Ok(match self.cell.kind {
            Kind::Text => owned(),
            Kind::Error => Value::Error(Cow::Owned(text.to_owned())),
            Kind::Truth => Value::Truth(matches!(text.trim(), "1" | "true")),
            Kind::IsoDay => match CivilDate::parse(text.get(..10).unwrap_or(text)) {
                Ok(day) => Value::Day(day),
                Err(_) => owned(),
            },
            Kind::Shared => {
                let strings = &self.book.strings;
                let found = text.trim().parse().ok().and_then(|index| strings.get(index));
                let bad =
                    || self.bad_value(&format!("text number `{text:.20}`"), "one of the workbook's texts");
                Value::Text(Cow::Borrowed(found.ok_or_else(bad)?))
            }
            Kind::Number => {
                let number = text.trim().parse::<f64>().ok().filter(|number| number.is_finite());
                let number = number.ok_or_else(|| self.bad_value(&format!("`{text:.40}`"), "a number"))?;
                self.shown(number)
            }
        })
    }

    fn shown(&self, number: f64) -> Value<'s> {
        let text = |text: String| Value::Text(Cow::Owned(text));
        match self.book.formats.get(self.cell.format).unwrap_or(&Shown::Number) {
            Shown::Number => Value::Number(number),
            // What people see there is more than the number, and changes what it means.
            Shown::Percent => text(format!("{} %", (number * 1e8).round() / 1e6)),
            Shown::Among(before, behind) => text(format!("{before}{number}{behind}")),
            Shown::Time => Value::Time(number),
            Shown::Day if (0.0..1.0).contains(&number) && !self.book.is_1904 => Value::Time(number),
            Shown::Day => day_of_count(number, self.book.is_1904).map_or(Value::Number(number), Value::Day),
        }
    }

    fn bad_value(&self, found: &str, expected: &str) -> Fault {
        let mend = format!("{expected}; open the workbook in a spreadsheet program and save it anew");
        Fault::new(found, mend).at(cell_name(self.cell.column, self.row))
    }

    fn close_row(&mut self, on_row: OnRow<'_>) -> Result<ControlFlow<()>, Fault> {
        self.merges.carry(self.row, &mut self.cells, &mut self.carried);
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

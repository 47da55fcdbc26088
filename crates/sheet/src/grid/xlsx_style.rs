//! Xlsx style: which cell formats show a number as a day or a time.

use std::collections::BTreeMap;

use crate::grid::cap::MAX_FORMATS;
use crate::grid::part::{Part, Piece, attribute, number_attribute};
use crate::grid::place::Fault;

/// What a cell's format makes of a number.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) enum Shown {
    /// A number.
    #[default]
    Number,
    /// A day, perhaps with a time.
    Day,
    /// A time of day or a span.
    Time,
    /// A number of hundredths.
    Percent,
    /// A number with words before and behind it.
    Among(Box<str>, Box<str>),
}

/// Reads the formats of a workbook's cells, by the number that cells name them with.
pub(crate) fn read_formats(part: &mut Part<'_>) -> Result<Vec<Shown>, Fault> {
    let mut own: BTreeMap<u32, Shown> = BTreeMap::new();
    let mut formats = Vec::new();
    let mut in_cells = false;
    loop {
        match part.next()? {
            Piece::Open(tag) => match tag.local_name().as_ref() {
                "numFmt" => {
                    let id = number_attribute(&tag, "numFmtId")?;
                    if let (Some(id), Some(code)) = (id, attribute(&tag, "formatCode")?) {
                        own.insert(id, shown_by_code(&code));
                    }
                }
                "cellXfs" => in_cells = true,
                "xf" if in_cells => {
                    let id = number_attribute(&tag, "numFmtId")?.unwrap_or(0);
                    formats.push(own.get(&id).cloned().unwrap_or_else(|| shown_by_number(id)));
                }
                _ => {}
            },
            Piece::Close(tag) if tag.local_name().as_ref() == "cellXfs" => in_cells = false,
            Piece::End => return Ok(formats),
            Piece::Close(_) | Piece::Text(_) => {}
        }
        if formats.len() > MAX_FORMATS || own.len() > MAX_FORMATS {
            let found = format!("more than {MAX_FORMATS} cell formats");
            return Err(Fault::new(found, "fewer; copy the values into a new workbook"));
        }
    }
}

/// The formats that every workbook has (published source: ECMA-376 part 1, 18.8.30, from memory; 27 to 36 and 50 to 58 are
/// days in East Asian editions).
fn shown_by_number(id: u32) -> Shown {
    match id {
        14..=17 | 22 | 27..=36 | 50..=58 => Shown::Day,
        18..=21 | 45..=47 => Shown::Time,
        9 | 10 => Shown::Percent,
        _ => Shown::Number,
    }
}

/// A format by its code, such as `dd/mm/yyyy`, `[h]:mm` or `0" lb"`. Colours and conditions do not count.
fn shown_by_code(code: &str) -> Shown {
    let (mut has_day, mut has_time, mut has_month_or_minute) = (false, false, false);
    let (mut has_percent, mut has_figures) = (false, false);
    let mut words = [String::new(), String::new()];
    let mut signs = code.chars();
    while let Some(sign) = signs.next() {
        match sign {
            ';' => break,
            '"' => words[usize::from(has_figures)].extend(signs.by_ref().take_while(|c| *c != '"')),
            '0' | '#' | '?' => has_figures = true,
            '%' => has_percent = true,
            '\\' | '_' | '*' => {
                signs.next();
            }
            '[' => {
                let inner: String = signs.by_ref().take_while(|c| *c != ']').collect();
                let is_span = !inner.is_empty() && inner.to_lowercase().chars().all(|c| "hms".contains(c));
                has_time |= is_span;
            }
            'y' | 'Y' | 'd' | 'D' => has_day = true,
            'h' | 'H' | 's' | 'S' => has_time = true,
            'm' | 'M' => has_month_or_minute = true,
            // `General` is no pattern of a day.
            'G' | 'g' => return Shown::Number,
            _ => {}
        }
    }
    match (has_day, has_time, has_month_or_minute) {
        (true, ..) | (false, false, true) => Shown::Day,
        (false, true, _) => Shown::Time,
        (false, false, false) if has_percent => Shown::Percent,
        (false, false, false) if words.iter().any(|text| text.contains(char::is_alphanumeric)) => {
            let [before, behind] = words;
            Shown::Among(before.into(), behind.into())
        }
        (false, false, false) => Shown::Number,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_tell_days_from_times_and_numbers() {
        for day in ["dd/mm/yyyy", "d\\.m\\.yy", "[$-409]mmm d;@", "yyyy-mm-dd hh:mm", "mmmm", "[Red]D"] {
            assert_eq!(shown_by_code(day), Shown::Day, "{day}");
        }
        for time in ["h:mm", "[h]:mm:ss", "mm:ss.0", "[mm]:ss", "hh:mm AM/PM"] {
            assert_eq!(shown_by_code(time), Shown::Time, "{time}");
        }
        for number in ["0", "0.00", "General", "#,##0.0\" \"", "0\\d", "[Red]0;[Blue]-0", "@", "0;yy", ""] {
            assert_eq!(shown_by_code(number), Shown::Number, "{number}");
        }
        assert_eq!(shown_by_code("0.0%"), Shown::Percent);
        let among = |before: &str, behind: &str| Shown::Among(before.into(), behind.into());
        assert_eq!(shown_by_code("#,##0.0\" lb\""), among("", " lb"));
        assert_eq!(shown_by_code("\"3x\"0;\"-\""), among("3x", ""));
        assert_eq!(shown_by_number(9), Shown::Percent);
        assert_eq!(shown_by_number(14), Shown::Day);
        assert_eq!(shown_by_number(20), Shown::Time);
        assert_eq!(shown_by_number(2), Shown::Number);
    }
}

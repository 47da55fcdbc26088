//! Notation: the sets of one exercise in one cell.
//!
//! Sets stand in the order in which they were done, separated by blanks, commas, semicolons, slashes or line breaks. Each is a
//! count of clean units, with what else is known about it:
//!
//! | written | means |
//! |---|---|
//! | `5 5 4` or `5,5,4` or `5/5/4` | three sets of 5, 5 and 4, counted in the unit of the rung |
//! | `3x5` (`3×5`, `3*5`, `3 x 5`) | three sets of 5: sets first |
//! | `10s 8s`, `3x10s`, `10 sec` | seconds, of a hold or of one slow lowering |
//! | `5 reps` | repetitions, said outright |
//! | `5@10`, `3x5@+10kg`, `5@-20lb` | with kilograms (or pounds) added or, with a minus, taken off |
//! | `4f`, `5 5 4 f` | the last set before the `f` ended in a failed try of the next unit |
//! | `5 4 strength`, `0 balance` | the set before the word ended so: any word of a stop, see [`Stop`] |
//! | `5 r2`, `5r2` | two reps in reserve after the set before |
//!
//! What stands after a group speaks of its last set alone, a load of all its sets: `3x5@10 f` is three sets with ten
//! kilograms, of which the third failed. Without a unit of its own a load is in the unit of the mapping. A comma within a
//! load is a decimal comma where the mapping says so; where it does not, `5@2,5` may be a load of 2.5 or a set more and is
//! refused. Small and capital letters are the same.
//!
//! Nothing else is read: ranges (`8-10`), sums (`3+2`) and words such as `max` may mean several things and are refused, with
//! the place within the cell.
//!
//! ```
//! use nextrung_sheet::notation::{Style, read_sets_of_cell};
//! let sets = read_sets_of_cell("2x5@+10, 4 f", Style::default()).unwrap();
//! let counts: Vec<i64> = sets.iter().map(|set| set.count).collect();
//! assert_eq!(counts, [5, 5, 4]);
//! assert_eq!(sets[1].load_kg, Some(10.0));
//! assert!(sets[2].stop.is_some_and(|stop| stop.is_failure()));
//!
//! let fault = read_sets_of_cell("5 5 8-10", Style::default()).unwrap_err();
//! assert_eq!((fault.at, fault.found.as_str()), (6, "`-`"));
//! ```

use nextrung_domain::stop::Stop;

/// Most sets of one cell: more is a slip of the keyboard.
pub const MAX_SETS: usize = 50;

/// Kilograms in a pound (published source: the international avoirdupois pound of 1959, exact).
pub const KG_PER_POUND: f64 = 0.453_592_37;

/// Pounds in kilograms, to the gram.
pub(crate) fn kg_of_pounds(pounds: f64) -> f64 {
    (pounds * KG_PER_POUND * 1000.0).round() / 1000.0
}

/// How numbers of loads are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Style {
    /// True when a comma within a load is the decimal sign.
    pub has_decimal_comma: bool,
    /// True when a load without a unit is in pounds.
    pub is_in_pounds: bool,
}

/// A set as it stands in a cell.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NotedSet {
    /// Clean units done.
    pub count: i64,
    /// What the count was said to be, if it was.
    pub unit: Option<NotedUnit>,
    /// Kilograms added or taken off.
    pub load_kg: Option<f64>,
    /// How it ended, if that was said.
    pub stop: Option<Stop>,
    /// Reps in reserve.
    pub reserve: Option<i64>,
}

/// A unit that a cell may name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotedUnit {
    /// Repetitions.
    Reps,
    /// Seconds held, or of one slow lowering.
    Seconds,
}

/// What cannot be read, and where in the cell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotationFault {
    /// The letter at which it begins, from 1.
    pub at: usize,
    /// What stands there.
    pub found: String,
    /// What could have.
    pub expected: &'static str,
}

/// Reads a cell. Fails at the first sign that has no one meaning.
pub fn read_sets_of_cell(text: &str, style: Style) -> Result<Vec<NotedSet>, NotationFault> {
    if let Some(at) = style.has_decimal_comma.then(|| comma_of_two(text)).flatten() {
        return Err(NotationFault { at, found: "`,`".to_owned(), expected: TWO });
    }
    let signs: Vec<char> = text.chars().map(|c| if c.is_whitespace() { ' ' } else { c }).collect();
    let mut reading = Reading { signs, at: 0, style, sets: Vec::new() };
    loop {
        reading.skip(|c| " ,;/".contains(c));
        match reading.peek() {
            None => break,
            Some(c) if c.is_ascii_digit() => reading.group()?,
            Some(c) if c.is_alphabetic() && !reading.sets.is_empty() => reading.word()?,
            Some(_) => return Err(reading.fault(SET)),
        }
        if reading.sets.len() > MAX_SETS {
            return Err(NotationFault {
                at: 1,
                found: "more than 50 sets".to_owned(),
                expected: "at most 50 sets",
            });
        }
    }
    if reading.sets.is_empty() { Err(reading.fault(SET)) } else { Ok(reading.sets) }
}

/// Where the comma stands in a cell of two numbers that may be one: the letter, from 1.
fn comma_of_two(text: &str) -> Option<usize> {
    let (whole, part) = text.trim().split_once(',')?;
    let are_figures =
        [whole, part].iter().all(|side| !side.is_empty() && side.bytes().all(|b| b.is_ascii_digit()));
    let before = text.chars().take_while(|c| *c != ',').count();
    are_figures.then_some(before + 1)
}

const TWO: &str = "one reading, since numbers have a decimal comma here: `5 0` for two sets, `5` for a whole count; a spreadsheet \
                   may have added the `,0`";
const SET: &str = "sets such as `5 5 4`, `3x5`, `10s 8s` or `5@+10`, with `f` after one that failed; a note belongs into \
                   its own column";
const COMMA: &str = "one reading: a blank after a comma that separates sets, `5@2, 5`, or decimal = \"comma\" in the \
                     mapping for a load of 2.5";
const LOAD: &str = "a load behind an @, `5@10kg`";
const WORD: &str = "`f` for a failed try, `r` with the reps in reserve, or how the set ended: target, strength, balance, line, failed, \
                    chosen, pain, interrupted or other";

struct Reading {
    signs: Vec<char>,
    at: usize,
    style: Style,
    sets: Vec<NotedSet>,
}

impl Reading {
    fn peek(&self) -> Option<char> {
        self.signs.get(self.at).copied()
    }

    fn skip(&mut self, is_passed: impl Fn(char) -> bool) {
        while self.peek().is_some_and(&is_passed) {
            self.at += 1;
        }
    }

    fn takes(&mut self, sign: char) -> bool {
        let is_there = self.peek().is_some_and(|c| c.to_ascii_lowercase() == sign);
        self.at += usize::from(is_there);
        is_there
    }

    fn fault(&self, expected: &'static str) -> NotationFault {
        let found = match self.peek() {
            None => "nothing".to_owned(),
            Some(c) if c.is_alphabetic() => format!("`{}`", self.letters()),
            Some(c) => format!("`{c}`"),
        };
        NotationFault { at: self.at + 1, found, expected }
    }

    fn letters(&self) -> String {
        self.signs.iter().skip(self.at).take(30).take_while(|c| c.is_alphabetic()).collect()
    }

    fn whole(&mut self) -> Result<i64, NotationFault> {
        let from = self.at;
        let mut value: i64 = 0;
        while let Some(digit) = self.peek().and_then(|c| c.to_digit(10)) {
            value = value * 10 + i64::from(digit);
            self.at += 1;
            if value > 99_999 {
                self.at = from;
                return Err(self.fault("a count of at most five digits"));
            }
        }
        if self.at == from { Err(self.fault("a count")) } else { Ok(value) }
    }

    /// One or several sets of the same count: `5`, `3x10s@+5kg`.
    fn group(&mut self) -> Result<(), NotationFault> {
        let from = self.at;
        let mut count = self.whole()?;
        let mut sets = 1;
        let after_count = self.at;
        self.skip(|c| c == ' ');
        if self.peek().is_some_and(|c| "xX×*".contains(c)) {
            self.at += 1;
            self.skip(|c| c == ' ');
            (sets, count) = (count, self.whole()?);
        } else {
            self.at = after_count;
        }
        let fits = usize::try_from(sets).ok().filter(|n| (1..=MAX_SETS).contains(n));
        let Some(sets) = fits else {
            self.at = from;
            return Err(self.fault("1 to 50 sets before the `x`"));
        };
        let unit = self.unit();
        let load_kg = if self.load_follows() { Some(self.load()?) } else { None };
        if let Some(sign) = self.peek().filter(|c| !c.is_alphabetic() && !" ,;/".contains(*c)) {
            let expected = match sign {
                '-' | '–' | '—' => {
                    "sets separated by blanks, `5 5 4`; a range of reps is a plan and not what was done"
                }
                '+' => "the clean reps of one set; write `3 2` for two sets, or the rest into a note",
                '.' => "a whole count; a spreadsheet may have taken `5,5` or `5.5` for one number",
                _ => SET,
            };
            return Err(self.fault(expected));
        }
        let set = NotedSet { count, unit, load_kg, ..NotedSet::default() };
        self.sets.extend(std::iter::repeat_n(set, sets));
        Ok(())
    }

    /// `s`, `sec`, `reps` and so on, right after the count or after a blank.
    fn unit(&mut self) -> Option<NotedUnit> {
        let before = self.at;
        self.skip(|c| c == ' ');
        let word = self.letters().to_lowercase();
        let unit = match word.as_str() {
            "s" | "sec" | "secs" | "second" | "seconds" => Some(NotedUnit::Seconds),
            "rep" | "reps" => Some(NotedUnit::Reps),
            _ => None,
        };
        self.at = if unit.is_some() { self.at + word.len() } else { before };
        unit
    }

    fn load_follows(&mut self) -> bool {
        let before = self.at;
        self.skip(|c| c == ' ');
        let follows = self.takes('@');
        if !follows {
            self.at = before;
        }
        follows
    }

    /// True when the figures behind the sign here can only be those of a further group, as in `5@10,4@12`.
    fn is_group_ahead(&self) -> bool {
        let behind = self.signs.iter().skip(self.at + 1).find(|sign| !sign.is_ascii_digit());
        behind.is_some_and(|sign| "@xX×*".contains(*sign))
    }

    fn load(&mut self) -> Result<f64, NotationFault> {
        self.skip(|c| c == ' ');
        let is_less = self.peek().is_some_and(|c| "-−–".contains(c));
        self.at += usize::from(is_less || self.peek() == Some('+'));
        let mut digits = self.whole()?.to_string();
        let is_decimal = |c: char| c == '.' || (c == ',' && self.style.has_decimal_comma);
        let next_is_digit = self.signs.get(self.at + 1).is_some_and(char::is_ascii_digit);
        if self.peek() == Some(',')
            && next_is_digit
            && !self.style.has_decimal_comma
            && !self.is_group_ahead()
        {
            return Err(self.fault(COMMA));
        }
        if self.peek().is_some_and(is_decimal) && next_is_digit {
            self.at += 1;
            digits.push('.');
            while let Some(digit) = self.peek().filter(char::is_ascii_digit) {
                digits.push(digit);
                self.at += 1;
            }
        }
        let number: f64 = digits.parse().unwrap_or(0.0);
        let before = self.at;
        self.skip(|c| c == ' ');
        let word = self.letters().to_lowercase();
        let is_in_pounds = match word.as_str() {
            "kg" | "kgs" => false,
            "lb" | "lbs" => true,
            _ => self.style.is_in_pounds,
        };
        self.at =
            if matches!(word.as_str(), "kg" | "kgs" | "lb" | "lbs") { self.at + word.len() } else { before };
        let kg = if is_in_pounds { kg_of_pounds(number) } else { number };
        Ok(if is_less { -kg } else { kg })
    }

    /// How the last set ended, or what was left in reserve.
    fn word(&mut self) -> Result<(), NotationFault> {
        let word = self.letters().to_lowercase();
        let from = self.at;
        if word == "r" && self.signs.get(self.at + 1).is_some_and(char::is_ascii_digit) {
            self.at += 1;
            let reserve = self.whole()?;
            return match self.sets.last_mut() {
                Some(set) if set.reserve.is_none() => {
                    set.reserve = Some(reserve);
                    Ok(())
                }
                _ => {
                    self.at = from;
                    Err(self.fault("one reserve a set"))
                }
            };
        }
        let stop = if word == "f" { Some(Stop::Failed) } else { Stop::from_word(&word) };
        let is_mass = matches!(word.as_str(), "kg" | "kgs" | "lb" | "lbs");
        let Some(stop) = stop else { return Err(self.fault(if is_mass { LOAD } else { WORD })) };
        match self.sets.last_mut() {
            Some(set) if set.stop.is_none() => set.stop = Some(stop),
            _ => return Err(self.fault("one way of ending a set")),
        }
        self.at += word.len();
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> String {
        let style = Style { has_decimal_comma: true, is_in_pounds: false };
        match read_sets_of_cell(text, style) {
            Ok(sets) => sets.iter().map(show).collect::<Vec<_>>().join(" "),
            Err(fault) => format!("{} {}", fault.at, fault.found),
        }
    }

    fn show(set: &NotedSet) -> String {
        let unit = set.unit.map_or("", |u| if u == NotedUnit::Reps { "r" } else { "s" });
        let load = set.load_kg.map_or(String::new(), |kg| format!("@{kg}"));
        let stop = set.stop.map_or(String::new(), |stop| format!(":{}", stop.word()));
        let reserve = set.reserve.map_or(String::new(), |r| format!("~{r}"));
        format!("{}{unit}{load}{stop}{reserve}", set.count)
    }

    #[test]
    fn every_line_of_the_table_is_read() {
        for (text, wanted) in [
            ("5 5 4", "5 5 4"),
            ("5,5,4", "5 5 4"),
            (" 5/5 / 4;3\n2 ", "5 5 4 3 2"),
            ("3x5", "5 5 5"),
            ("3×5 2 X 4, 1*3", "5 5 5 4 4 3"),
            ("10s 8S", "10s 8s"),
            ("2x10 sec", "10s 10s"),
            ("5 reps", "5r"),
            ("5@10", "5@10"),
            ("2x5@+10kg, 4 @ 12,5", "5@10 5@10 4@12.5"),
            ("5@-20,5", "5@-20.5"),
            ("5@2,5,4", "5@2.5 4"),
            ("4f", "4:failed"),
            ("5 5 4 F", "5 5 4:failed"),
            ("3x5@10 f", "5@10 5@10 5@10:failed"),
            ("0 balance", "0:balance"),
            ("8s line 5s", "8s:line 5s"),
            ("5r2 4 r0 f", "5~2 4:failed~0"),
        ] {
            assert_eq!(read(text), wanted, "{text:?}");
        }
        let point = |text| read_sets_of_cell(text, Style::default()).unwrap().len();
        assert_eq!((point("5,0"), point("5,4")), (2, 2), "where points are decimal a comma separates");
        let pounds = Style { has_decimal_comma: false, is_in_pounds: true };
        let loads =
            |text| read_sets_of_cell(text, pounds).unwrap().iter().map(|s| s.load_kg).collect::<Vec<_>>();
        assert_eq!(loads("5@10 5@10kg"), [Some(4.536), Some(10.0)]);
        assert_eq!(loads("5@2, 5"), [Some(0.907), None], "a comma separates where points are decimal");
        assert_eq!(loads("5@2,4@4,2x3"), [Some(0.907), Some(1.814), None, None]);
        for open in ["5@2,5", "3x5@2,5 kg", "5@2,5f"] {
            let fault = read_sets_of_cell(open, pounds).unwrap_err();
            assert_eq!((fault.found.as_str(), fault.expected), ("`,`", COMMA), "{open}");
        }
    }

    #[test]
    fn what_may_mean_several_things_is_refused_at_its_place() {
        let kilograms = read_sets_of_cell("10 kg x 5", Style::default()).unwrap_err();
        assert_eq!((kilograms.at, kilograms.expected), (4, LOAD));
        for (text, wanted) in [
            ("", "1 nothing"),
            ("max", "1 `max`"),
            ("5 5 8-10", "6 `-`"),
            ("3+2", "2 `+`"),
            ("5.5", "2 `.`"),
            ("5 x", "4 nothing"),
            ("x5", "1 `x`"),
            ("5 easy", "3 `easy`"),
            ("5 f f", "5 `f`"),
            ("5 r2 r3", "6 `r`"),
            ("99x5", "1 `9`"),
            ("0x5", "1 `0`"),
            ("5@", "3 nothing"),
            ("5@heavy", "3 `heavy`"),
            ("1234567", "1 `1`"),
            ("5?", "2 `?`"),
            ("(5)", "1 `(`"),
            (" 5,0", "3 `,`"),
            ("1,250", "2 `,`"),
            ("5 5 ✓", "5 `✓`"),
        ] {
            assert_eq!(read(text), wanted, "{text:?}");
        }
    }
}
